#include "reticle_readings.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <optional>
#include <string_view>

namespace gradus {
namespace {

using Error = tl::unexpected<std::string>;

// Thousands of readings fit into it; a larger file is another.
constexpr std::uintmax_t kLargestFile = 1'000'000;
constexpr const char* kNextSeries = "/";

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t\r"), last = text.find_last_not_of(" \t\r");
  return first == std::string_view::npos ? std::string_view() : text.substr(first, last - first + 1);
}

tl::expected<scale::EyeReading, std::string> reading_of(std::string_view reticle, std::string_view micrometer) {
  const auto first = parse_divisions(reticle), second = parse_divisions(micrometer);
  if (!first) return Error(first.error());
  if (!second) return Error(second.error());
  const auto estimated = [](std::string_view text) { return text.find_first_of(".eE") != std::string_view::npos; };
  return scale::EyeReading{*first, *second, estimated(reticle), estimated(micrometer), 0};
}

// The fields of a line (RFC 4180, one line a record).
std::vector<std::string> fields_of(std::string_view line) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (c == '"' && quoted && i + 1 < line.size() && line[i + 1] == '"')
      fields.back() += line[i++];
    else if (c == '"')
      quoted = !quoted;
    else if (c == ',' && !quoted)
      fields.emplace_back();
    else
      fields.back() += c;
  }
  for (std::string& field : fields) field = trimmed(field);
  return fields;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines(1);
  for (const char c : text) {
    if (c == '\n')
      lines.emplace_back();
    else
      lines.back() += c;
  }
  if (lines.front().starts_with("\xEF\xBB\xBF")) lines.front().erase(0, 3);
  return lines;
}

// Which column holds what; -1: absent.
struct Heading {
  int reticle = -1, micrometer = -1, series = -1, setup = -1;
  std::size_t columns = 0;
};

tl::expected<Heading, std::string> heading_of(const std::vector<std::string>& names) {
  Heading heading;
  heading.columns = names.size();
  const std::map<std::string, int*> known = {{"reticle", &heading.reticle},
                                             {"micrometer", &heading.micrometer},
                                             {"series", &heading.series},
                                             {"setup", &heading.setup}};
  for (std::size_t i = 0; i < names.size(); ++i) {
    const auto found = known.find(names[i]);
    if (found == known.end())
      return Error("there is no column '" + names[i] +
                   "' here; the header names reticle,micrometer and, if wanted, series,setup");
    if (*found->second >= 0) return Error("the column '" + names[i] + "' is there twice; name each once");
    *found->second = static_cast<int>(i);
  }
  if (heading.reticle < 0 || heading.micrometer < 0)
    return Error("the first line must name the columns: reticle,micrometer and, if wanted, series,setup");
  return heading;
}

class Collected {
 public:
  void add(const Heading& heading, const std::vector<std::string>& fields, scale::EyeReading reading) {
    const auto field = [&](int at) { return at < 0 ? std::string() : fields[static_cast<std::size_t>(at)]; };
    const std::string setup = field(heading.setup);
    auto set = std::find_if(sets_.begin(), sets_.end(), [&](const ReadingSet& s) { return s.setup == setup; });
    if (set == sets_.end()) set = sets_.insert(sets_.end(), ReadingSet{setup, {}});
    auto& numbers = series_[setup];
    reading.series = numbers.emplace(field(heading.series), static_cast<int>(numbers.size())).first->second;
    set->readings.push_back(reading);
  }
  std::vector<ReadingSet> sets() && { return std::move(sets_); }

 private:
  std::vector<ReadingSet> sets_;
  std::map<std::string, std::map<std::string, int>> series_;
};

std::optional<std::string> why_unreadable(const std::string& path) {
  namespace fs = std::filesystem;
  std::error_code failure;
  const fs::file_status status = fs::status(path, failure);
  if (!fs::exists(status)) return "there is no such file; name a CSV with the columns reticle,micrometer";
  if (!fs::is_regular_file(status)) return "is not a file; name a CSV with the columns reticle,micrometer";
  if (fs::file_size(path, failure) > kLargestFile) return "is larger than 1 MB, which no list of readings is";
  return std::nullopt;
}

}  // namespace

tl::expected<double, std::string> parse_divisions(std::string_view text) {
  text = trimmed(text);
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error == std::errc{} && end == text.data() + text.size() && std::isfinite(value)) return value;
  const std::string shown(text);
  if (text.find(',') != std::string_view::npos)
    return Error("'" + shown + "' has a comma; the decimal point is a point, like 33.5");
  if (text.find_first_of("umµ%") != std::string_view::npos && error == std::errc{})
    return Error("'" + shown + "' has a unit; readings are counted in divisions, like 33.5");
  return Error("'" + shown + "' is no number of divisions; write it like 33 or 33.5");
}

tl::expected<scale::EyeReading, std::string> parse_reading(const std::string& text) {
  const std::size_t equals = text.find('=');
  if (equals == std::string::npos || text.find('=', equals + 1) != std::string::npos)
    return Error("'" + text + "' is no reading; write the reticle's line, =, and the micrometer's, like 33=34");
  const auto reading = reading_of(std::string_view(text).substr(0, equals), std::string_view(text).substr(equals + 1));
  return reading ? reading : Error("the reading '" + text + "': " + reading.error());
}

tl::expected<std::vector<scale::EyeReading>, std::string> parse_readings(const std::vector<std::string>& arguments) {
  std::vector<scale::EyeReading> readings;
  int series = 0;
  for (const std::string& text : arguments) {
    if (text == kNextSeries) {
      ++series;
      continue;
    }
    auto reading = parse_reading(text);
    if (!reading) return Error(reading.error());
    reading->series = series;
    readings.push_back(*reading);
  }
  return readings;
}

tl::expected<std::vector<ReadingSet>, std::string> read_readings(const std::string& path) {
  if (const auto why = why_unreadable(path)) return Error(path + ": " + *why);
  std::ifstream file(path, std::ios::binary);
  const std::string text(std::istreambuf_iterator<char>(file), {});
  if (!file) return Error(path + ": cannot be read; check its permissions");
  if (text.empty()) return Error(path + ": is empty; its first line names the columns: reticle,micrometer");
  const std::vector<std::string> lines = lines_of(text);
  const auto heading = heading_of(fields_of(lines.front()));
  if (!heading) return Error(path + ", line 1: " + heading.error());
  Collected collected;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    if (trimmed(lines[i]).empty()) continue;
    const auto wrong = [&](const std::string& what) {
      return Error(path + ", line " + std::to_string(i + 1) + ": " + what);
    };
    const std::vector<std::string> fields = fields_of(lines[i]);
    if (fields.size() != heading->columns)
      return wrong(std::to_string(fields.size()) + " fields where the header names " +
                   std::to_string(heading->columns) + "; decimals are written with a point");
    const auto reading = reading_of(fields[static_cast<std::size_t>(heading->reticle)],
                                    fields[static_cast<std::size_t>(heading->micrometer)]);
    if (!reading) return wrong(reading.error());
    collected.add(*heading, fields, *reading);
  }
  std::vector<ReadingSet> sets = std::move(collected).sets();
  if (sets.empty()) return Error(path + ": holds no reading beneath its header");
  return sets;
}

}  // namespace gradus
