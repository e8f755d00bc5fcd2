#include "measure_csv.h"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

#include "csv_line.h"
#include "text.h"

namespace gradus {
namespace {

void optional_number(CsvLine& line, const std::optional<double>& value) { value ? line.number(*value) : line.empty(1); }

void optional_value(CsvLine& line, const std::optional<scale::MeasuredValue>& value) {
  if (value)
    line.number(value->value).number(value->expanded());
  else
    line.empty(2);
}

std::string row(const std::string& image, std::size_t object, const scale::MeasuredBody& body) {
  CsvLine line;
  line.text(valid_utf8(image))
      .text(std::to_string(object))
      .number(body.at.x)
      .number(body.at.y)
      .text(kind_words(body.kind));
  line.number(body.width_um.value).number(body.width_um.expanded());
  optional_number(line, body.width_min_um);
  optional_number(line, body.width_max_um);
  optional_number(line, body.width_sd_um);
  optional_value(line, body.length_um);
  body.kind == scale::BodyKind::grain ? line.number(body.width_um.value) : line.empty(1);
  optional_number(line, body.feret_max_um);
  optional_value(line, body.area_um2);
  optional_number(line, body.perimeter_um);
  optional_number(line, body.equivalent_diameter_um);
  body.shape ? line.number(body.shape->circularity) : line.empty(1);
  line.text(body.at_border ? "true" : "false").text(joined_notes(body.notes));
  return line.ended();
}

}  // namespace

std::string kind_words(scale::BodyKind kind) {
  return kind == scale::BodyKind::fibre ? "fibre" : kind == scale::BodyKind::grain ? "grain" : "across";
}

std::string joined_notes(const std::vector<std::string>& notes) {
  std::string text;
  for (const std::string& note : notes) text.append(text.empty() ? "" : ";").append(note);
  return text;
}

std::string measure_csv_header() {
  return "image,object,x_px,y_px,kind,width_um,width_expanded_uncertainty_um,width_min_um,width_max_um,width_sd_um,"
         "length_um,length_expanded_uncertainty_um,feret_min_um,feret_max_um,area_um2,area_expanded_uncertainty_um2,"
         "perimeter_um,equivalent_diameter_um,circularity,at_border,notes\n";
}

std::string measure_csv_rows(const SpecimenOutcome& outcome) {
  std::string text;
  for (std::size_t i = 0; i < outcome.bodies.size(); ++i) text += row(outcome.image, i + 1, outcome.bodies[i]);
  return text;
}

RowFile::RowFile(const std::string& target, std::uintmax_t keep_bytes) : target_(target) {
  if (target == "-") {
    descriptor_ = STDOUT_FILENO;
    return;
  }
  const int begin = keep_bytes == 0 ? O_TRUNC : 0;
  descriptor_ = open(target.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC | begin, 0666);
  if (descriptor_ < 0 || (keep_bytes > 0 && ftruncate(descriptor_, static_cast<off_t>(keep_bytes)) != 0))
    problem_ = target + ": cannot be written, " + std::generic_category().message(errno) + "; choose another file";
}

RowFile::~RowFile() {
  if (descriptor_ >= 0 && target_ != "-") close(descriptor_);
}

void RowFile::append(const std::string& text) {
  std::size_t done = 0;
  while (problem_.empty() && done < text.size()) {
    const ssize_t count = ::write(descriptor_, text.data() + done, text.size() - done);
    if (count < 0 && errno == EINTR) continue;
    if (count < 0)
      problem_ = (target_ == "-" ? "standard output" : target_) + ": could not be written to its end, " +
                 std::generic_category().message(errno) + "; free some space and go on with --resume";
    else
      done += static_cast<std::size_t>(count);
  }
}

}  // namespace gradus
