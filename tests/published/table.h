// A published table read from tests/published/data: comma-separated, the first line names the columns.
#pragma once

#include <string>
#include <vector>

namespace test_support {

class Table {
 public:
  // Throws std::runtime_error when the file cannot be read or a row is of another length than the first line.
  explicit Table(const std::string& file_name);

  std::size_t rows() const { return cells_.size(); }
  const std::string& text(std::size_t row, const std::string& column) const;
  // Throws when a cell is not wholly a number.
  double number(std::size_t row, const std::string& column) const;
  std::vector<double> numbers(const std::string& column) const;
  // The rows whose cell in `column` is `value`; throws when there are none.
  Table where(const std::string& column, const std::string& value) const;

 private:
  Table() = default;
  std::size_t index_of(const std::string& column) const;

  std::vector<std::string> columns_;
  std::vector<std::vector<std::string>> cells_;
};

}  // namespace test_support
