// The CSV of `measure`: one row a body, written as images finish.
#pragma once

#include <string>
#include <vector>

#include "measure_image.h"

namespace gradus {

std::string kind_words(scale::BodyKind kind);
std::string joined_notes(const std::vector<std::string>& notes);

std::string measure_csv_header();

// All rows of an image; none when it has no bodies.
std::string measure_csv_rows(const SpecimenOutcome& outcome);

// Appends whole texts to a file, so that what stands there is always whole rows.
class RowFile {
 public:
  // "-" is standard output. `keep_bytes`: what stands there and stays; the rest goes. 0 begins anew.
  RowFile(const std::string& target, std::uintmax_t keep_bytes);
  ~RowFile();
  RowFile(const RowFile&) = delete;
  RowFile& operator=(const RowFile&) = delete;

  void append(const std::string& text);
  const std::string& problem() const { return problem_; }  // the first, in one line; empty: none

 private:
  std::string target_, problem_;
  int descriptor_ = -1;
};

}  // namespace gradus
