// One line of a CSV file (RFC 4180, but lines end in a line feed).
#pragma once

#include <string>

namespace gradus {

class CsvLine {
 public:
  CsvLine& text(const std::string& field);
  CsvLine& number(double value);
  CsvLine& empty(int count);
  std::string ended() const { return line_ + '\n'; }

 private:
  std::string line_;
  bool started_ = false;
};

}  // namespace gradus
