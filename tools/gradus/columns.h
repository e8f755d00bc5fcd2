// Text in columns for a terminal.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace gradus {

class Columns {
 public:
  // One entry a column: true stands numbers at its right, so that they can be read down.
  explicit Columns(std::vector<bool> right_aligned);

  void widen(const std::vector<std::string>& row);
  void widen_first(const std::string& text);

  // Without blanks at its end, with a line feed.
  std::string line(const std::vector<std::string>& row) const;
  // The first column, and words that run over all others.
  std::string line(const std::string& first, const std::string& words) const;
  std::string rule() const;

 private:
  std::vector<bool> right_;
  std::vector<std::size_t> widths_;
};

}  // namespace gradus
