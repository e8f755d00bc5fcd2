#include "csv_line.h"

#include "text.h"

namespace gradus {
namespace {

std::string quoted(const std::string& field) {
  std::string result = "\"";
  for (const char character : field) result += character == '"' ? std::string("\"\"") : std::string(1, character);
  return result + '"';
}

}  // namespace

CsvLine& CsvLine::text(const std::string& field) {
  if (started_) line_ += ',';
  started_ = true;
  line_ += field.find_first_of(",\"\r\n") == std::string::npos ? field : quoted(field);
  return *this;
}

CsvLine& CsvLine::number(double value) { return text(shortest(value)); }

CsvLine& CsvLine::empty(int count) {
  for (int i = 0; i < count; ++i) text("");
  return *this;
}

}  // namespace gradus
