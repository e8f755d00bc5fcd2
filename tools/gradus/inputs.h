// From what stands on the command line to the images to look at.
#pragma once

#include <string>
#include <vector>

#include "batch.h"

namespace gradus {

struct InputList {
  std::vector<Input> inputs;
  std::vector<std::string> repeated;  // paths that were named again and are done once
};

// Files as they are, folders as the images in them, in the order given and each once. An argument that gives no
// image, as it does not exist or is a folder without any, stays in its place, with its problem.
InputList list_inputs(const std::vector<std::string>& arguments, bool recursive);

}  // namespace gradus
