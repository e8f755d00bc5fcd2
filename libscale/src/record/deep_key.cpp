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

std::string key_on_line(std::string_view text, std::size_t line) {
  for (; line > 1; --line) {
    const std::size_t end = text.find('\n');
    if (end == std::string_view::npos) return "";
    text.remove_prefix(end + 1);
  }
  text = text.substr(0, text.find('\n'));
  std::size_t length = text.find('=');
  if (length == std::string_view::npos) return "";
  const std::size_t first = text.find_first_not_of(" \t");
  while (length > first && (text[length - 1] == ' ' || text[length - 1] == '\t')) --length;
  const std::string_view key = text.substr(first, length - first);
  const bool bare = key.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.") ==
                    std::string_view::npos;
  return bare ? std::string(key) : "";
}

}  // namespace scale::record
