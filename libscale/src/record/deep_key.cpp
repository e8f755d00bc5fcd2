#include "record/deep_key.h"

namespace scale::record {

int line_of_deep_key(std::string_view text) {
  int line = 1, dots = 0;
  char quote = 0;  // that is open
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\n') {
      ++line, dots = 0, quote = 0;
    } else if (quote != 0) {
      if (c == '\\' && quote == '"') ++i;
      if (c == quote) quote = 0;
    } else if (c == '"' || c == '\'') {
      quote = c;
    } else if (c == '#') {
      i = text.find('\n', i);
      if (i == std::string_view::npos) return 0;
      --i;
    } else if (std::string_view("=,[]{}").find(c) != std::string_view::npos) {
      dots = 0;
    } else if (c == '.' && ++dots >= kDeepestKey) {
      return line;
    }
  }
  return 0;
}

}  // namespace scale::record
