#include "table.h"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace test_support {
namespace {

std::vector<std::string> split(const std::string& line) {
  std::vector<std::string> cells;
  std::istringstream stream(line + ",");  // so that an empty last cell is kept
  for (std::string cell; std::getline(stream, cell, ',');) cells.push_back(cell);
  return cells;
}

}  // namespace

Table::Table(const std::string& file_name) {
  std::ifstream file(std::string(GRADUS_PUBLISHED_DATA) + "/" + file_name);
  std::string line;
  if (!std::getline(file, line)) throw std::runtime_error("published data cannot be read: " + file_name);
  columns_ = split(line);
  while (std::getline(file, line)) {
    cells_.push_back(split(line));
    if (cells_.back().size() != columns_.size()) throw std::runtime_error(file_name + ": odd row: " + line);
  }
}

std::size_t Table::index_of(const std::string& column) const {
  const auto found = std::find(columns_.begin(), columns_.end(), column);
  if (found == columns_.end()) throw std::runtime_error("no column " + column);
  return static_cast<std::size_t>(found - columns_.begin());
}

const std::string& Table::text(std::size_t row, const std::string& column) const {
  return cells_.at(row).at(index_of(column));
}

double Table::number(std::size_t row, const std::string& column) const {
  std::size_t used = 0;
  const std::string& cell = text(row, column);
  const double value = std::stod(cell, &used);
  if (used != cell.size()) throw std::runtime_error("not a number: " + cell);
  return value;
}

std::vector<double> Table::numbers(const std::string& column) const {
  std::vector<double> values;
  for (std::size_t row = 0; row < rows(); ++row) values.push_back(number(row, column));
  return values;
}

Table Table::where(const std::string& column, const std::string& value) const {
  Table part;
  part.columns_ = columns_;
  for (std::size_t row = 0; row < rows(); ++row)
    if (text(row, column) == value) part.cells_.push_back(cells_[row]);
  if (part.cells_.empty()) throw std::runtime_error("no row with " + column + " " + value);
  return part;
}

}  // namespace test_support
