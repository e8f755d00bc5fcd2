// A line on standard error that says how far a folder is; for people only.
#pragma once

#include <cstddef>

namespace gradus {

class Progress {
 public:
  // Silent when `wanted` is false, when standard error is no terminal, or when there is but one image.
  Progress(std::size_t total, bool wanted);
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  void advance();

  // Clears the line, so that a message can be written in its place.
  void make_way() const;

 private:
  void show() const;

  std::size_t total_;
  std::size_t done_ = 0;
  bool shown_;
};

}  // namespace gradus
