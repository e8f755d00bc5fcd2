#include "images/path_list.h"

#include <algorithm>

namespace images {

void PathList::add(std::string_view path) {
  begins_.push_back(text_.size());
  text_.append(path).push_back('\0');
}

void PathList::sort() {
  const auto at = [this](std::size_t begin) { return std::string_view(text_.data() + begin); };
  std::ranges::sort(begins_, {}, at);
}

}  // namespace images
