#include "measure_resume.h"

#include <algorithm>
#include <fstream>

#include "text.h"

namespace gradus {
namespace {

// One row with its line feed; a field in quotes may hold some more. False at the end, and for a row without its end.
bool next_row(std::ifstream& file, std::string& row) {
  row.clear();
  for (std::string line; std::getline(file, line);) {
    row += line;
    if (file.eof()) return false;  // cut off
    row += '\n';
    if (std::count(row.begin(), row.end(), '"') % 2 == 0) return true;
  }
  return false;
}

std::string first_field(const std::string& row) {
  if (row.empty() || row[0] != '"') return row.substr(0, row.find(','));
  std::string field;
  for (std::size_t i = 1; i < row.size(); ++i) {
    if (row[i] == '"' && (i + 1 >= row.size() || row[i + 1] != '"')) break;
    if (row[i] == '"') ++i;
    field += row[i];
  }
  return field;
}

}  // namespace

ResumePoint resume_point(const std::string& csv, const std::string& header, const InputList& inputs) {
  ResumePoint point;
  std::ifstream file(csv, std::ios::binary);
  std::string row;
  if (!file) return point;
  const std::string other = "; it cannot be continued, write to another file";
  const bool whole = next_row(file, row);
  // Broken off within its first line, it is the beginning of that line; a file of somebody else's is not.
  if (!whole && header.starts_with(row)) return point;
  if (row != header) {
    point.problem = csv + ": is no table of gradus measure" + other;
    return point;
  }
  std::uintmax_t passed = row.size();
  std::string current;
  point.keep_bytes = passed;
  while (next_row(file, row)) {
    const std::string image = first_field(row);
    if (image != current || point.rows.empty()) {
      // Rows come in the order of the images, of which some have none.
      std::size_t place = current.empty() ? 0 : point.first + 1;
      while (place < inputs.size() && valid_utf8(inputs.path(place)) != image) ++place;
      if (place == inputs.size()) {
        point.problem = csv + ": has '" + printable(image) + "' where these images do not" + other;
        return point;
      }
      point.first = place;
      point.keep_bytes = passed;
      point.rows.clear();
      current = image;
    }
    point.rows += row;
    passed += row.size();
  }
  return point;
}

}  // namespace gradus
