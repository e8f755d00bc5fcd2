// The room of a lab file: which image belongs to which set-up, and how it is to be looked at.
#pragma once

#include <scale/lab.h>

#include <string>
#include <vector>

#include "batch.h"
#include "examine.h"

namespace gradus {

struct LabRoom {
  std::string path;  // of the lab file, as given
  std::string text;  // its bytes, for the register
  scale::Lab lab;

  std::string register_path() const;
};

// Reads the lab file; when that fails, `problems` says why, one line each, with the path and the next step.
std::optional<LabRoom> read_lab_room(const std::string& path, std::vector<std::string>& problems);

enum class SetupKind { any, camera };

// One line: there is no set-up of this name, and which there are.
std::string no_such_setup(const LabRoom& room, const std::string& name, SetupKind kind = SetupKind::any);

// Gives an input its set-up, or the reason why it has none. `setup` not empty: it belongs to that one. With
// `check_shots` what matches check_images alone belongs as well.
void assign_setup(Input& input, const scale::Lab& lab, const std::string& setup, bool check_shots = false);

// How the shots of a set-up are looked at; `general` has the options that hold for all, `today` what the command line
// says of single shots.
Examination examination_of(const scale::Lab& lab, std::size_t setup, const std::vector<scale::LabShots>& today,
                           const Examination& general);

}  // namespace gradus
