// Many images through one function, in order, with a bounded number in memory.
#pragma once

#include <scale/failure.h>

#include <cstddef>
#include <functional>
#include <optional>
#include <string>

namespace gradus {

// One image to examine, or an argument that gave none (`problem` set).
struct Input {
  std::string path;                         // as given; folder joined with name
  std::string picture_name;                 // file name below --pictures
  std::string problem;                      // one line: cause and next step
  std::optional<std::size_t> setup{};       // place in the lab file's list; with a lab file only
  std::optional<scale::Failure> refusal{};  // why it is not even read
};

// How many numbers at most are between the beginning of their `work` and the end of their `hand_on`; they follow each
// other, so that a ring of so many places holds what they came to.
inline std::size_t under_way(int jobs) { return static_cast<std::size_t>(jobs) + 1; }

// Calls `work` for the numbers below `count` on `jobs` threads in all (also those of the engine), and `hand_on` in
// order when each is done, never two at a time.
void run_in_order(std::size_t count, int jobs, const std::function<void(std::size_t)>& work,
                  const std::function<void(std::size_t)>& hand_on);

}  // namespace gradus
