// A folder mixed from four set-ups, with misfiled, half-size and cropped images in it, through the program.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace drift_test {

struct FolderCounts {
  int wrong = 0, wrong_found = 0;           // images that are not as registered
  int good = 0, accused = 0;                // images that are
  int silent = 0, silent_unverifiable = 0;  // images that nothing distinguishes
  std::vector<std::string> failures;        // in words
};

FolderCounts check_folder(std::uint64_t seed);

// Seconds that a check of so many images takes by what the files say alone; negative when a verdict was wrong.
double check_tags(int images);

}  // namespace drift_test
