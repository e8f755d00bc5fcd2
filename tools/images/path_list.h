// Many paths in little memory: the text of all of them in one piece, and eight bytes each for where it begins.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace images {

class PathList {
 public:
  // No path holds a zero byte, which ends each of them here.
  void add(std::string_view path);
  void sort();  // bytewise
  std::size_t size() const { return begins_.size(); }
  bool empty() const { return begins_.empty(); }
  // Good until the list changes.
  std::string_view operator[](std::size_t place) const { return text_.data() + begins_[place]; }

 private:
  std::string text_;
  std::vector<std::size_t> begins_;
};

}  // namespace images
