// One image against its set-up.
#pragma once

#include <scale/control_chart.h>
#include <scale/drift.h>

#include <optional>
#include <string>
#include <vector>

#include "batch.h"
#include "examine.h"
#include "registered.h"

namespace gradus {

// The file itself, by which it is known again.
struct FileMark {
  std::uintmax_t bytes = 0;
  std::int64_t modified = 0;  // nanoseconds since 1970, UTC
  std::string sha256;         // empty: not asked for
};

struct CheckOutcome {
  std::string image;                 // as given
  std::optional<std::size_t> setup;  // place in the lab file's list
  scale::Judgement judgement;
  bool readable = true;
  bool held_by_scale = false;  // a scale in the picture decided
  bool header_only = false;    // its pixels were not looked at
  std::string taken_at;        // UTC: by the file's own word, else when it was last written
  std::optional<FileMark> mark;
  std::vector<scale::CheckStandard> spacings;  // micrometres: a low, a middle and a high one of the scale in it
  std::optional<scale::StatedBar> bar;
  std::vector<scale::Warning> warnings;
};

struct CheckPlan {
  const LabRoom& room;
  const RegisteredRoom& registered;
  std::vector<Examination> how;  // of each set-up
  std::string now;               // UTC
  bool tags_only = false;        // look at headers alone
  bool hash_files = false;
};

// What the file system says of the file; nothing when it says nothing.
std::optional<FileMark> mark_of(const std::string& path);

// "2026-02-28T09:30:00Z" of nanoseconds since 1970.
std::string utc_of(std::int64_t nanoseconds);

// Never throws: whatever goes wrong with this image makes it unverifiable, with the reason.
CheckOutcome check_image(const Input& input, const CheckPlan& plan) noexcept;

}  // namespace gradus
