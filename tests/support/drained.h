// What a child process wrote into a temporary file.
#pragma once

#include <cstdio>
#include <string>

namespace support {

// Everything in `file`, from its start; closes it.
inline std::string drained(std::FILE* file) {
  std::rewind(file);
  std::string text;
  char buffer[4096];
  for (std::size_t count = 0; (count = std::fread(buffer, 1, sizeof buffer, file)) > 0;) text.append(buffer, count);
  std::fclose(file);
  return text;
}

}  // namespace support
