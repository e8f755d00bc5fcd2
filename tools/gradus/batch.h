// Many images through one function, in order, with a bounded number in memory.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "outcome.h"

namespace gradus {

// One image to examine, or an argument that gave none (`problem` set).
struct Input {
  std::string path;                         // as given; folder joined with name
  std::string picture_name;                 // file name below --pictures
  std::string problem;                      // one line: cause and next step
  std::optional<std::size_t> setup{};       // place in the lab file's list; with a lab file only
  std::optional<scale::Failure> refusal{};  // why it is not even read
};

// Calls `work` for the numbers below `count` on `jobs` threads in all (also those of the engine), and `hand_on` in
// order when each is done, never two at a time. At most jobs + 1 are under way.
void run_in_order(std::size_t count, int jobs, const std::function<void(std::size_t)>& work,
                  const std::function<void(std::size_t)>& hand_on);

// Calls `examine` for every input on `jobs` threads in all (also those of the engine) and `collect` with the
// outcomes in the order of the inputs, never two at a time. At most jobs + 1 images are held.
void run_batch(const std::vector<Input>& inputs, int jobs, const std::function<Outcome(const Input&)>& examine,
               const std::function<void(Outcome&&)>& collect);

}  // namespace gradus
