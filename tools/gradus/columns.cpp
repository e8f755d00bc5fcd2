#include "columns.h"

#include <algorithm>

#include "text.h"

namespace gradus {
namespace {

constexpr std::size_t kGap = 2;

std::string padded(const std::string& text, std::size_t width, bool right) {
  const std::string blanks(width - std::min(width, display_width(text)), ' ');
  return right ? blanks + text : text + blanks;
}

}  // namespace

Columns::Columns(std::vector<bool> right_aligned) : right_(std::move(right_aligned)), widths_(right_.size()) {}

void Columns::widen(const std::vector<std::string>& row) {
  for (std::size_t i = 0; i < widths_.size(); ++i) widths_[i] = std::max(widths_[i], display_width(row[i]));
}

void Columns::widen_first(const std::string& text) { widths_[0] = std::max(widths_[0], display_width(text)); }

std::string Columns::line(const std::vector<std::string>& row) const {
  std::string text;
  for (std::size_t i = 0; i < widths_.size(); ++i) {
    if (i > 0) text.append(kGap, ' ');
    text += padded(row[i], widths_[i], right_[i]);
  }
  text.erase(text.find_last_not_of(' ') + 1);
  return text + '\n';
}

std::string Columns::line(const std::string& first, const std::string& words) const {
  return padded(first, widths_[0], false) + std::string(kGap, ' ') + words + '\n';
}

std::string Columns::rule() const {
  std::size_t width = 0;
  for (std::size_t i = 0; i < widths_.size(); ++i) width += widths_[i] + (i == 0 ? 0 : kGap);
  std::string text;
  for (std::size_t i = 0; i < width; ++i) text += "─";
  return text + '\n';
}

}  // namespace gradus
