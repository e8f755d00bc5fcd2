#include "record/section.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace scale::record {
namespace {

// A key further off than this was not meant by a slip of the finger.
constexpr std::size_t kMostSlips = 3;

// Levenshtein's distance: letters to insert, drop or change.
std::size_t distance(const std::string& a, const std::string& b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t changed = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, changed});
    }
  }
  return row[b.size()];
}

std::string nearest(const std::string& key, const std::vector<std::string>& known) {
  const auto best = std::min_element(known.begin(), known.end(), [&](const std::string& a, const std::string& b) {
    return distance(key, a) < distance(key, b);
  });
  if (best == known.end() || distance(key, *best) > std::min(kMostSlips, key.size() / 2 + 1)) return "";
  return *best;
}

std::string joined(const std::vector<std::string>& words) {
  std::string list;
  for (const std::string& word : words) list += (list.empty() ? "" : ", ") + word;
  return list;
}

}  // namespace

const toml::node* Section::ask(const std::string& key) {
  if (std::find(asked_.begin(), asked_.end(), key) == asked_.end()) asked_.push_back(key);
  return table_.get(key);
}

void Section::complain(const std::string& key, const std::string& message) {
  const toml::node* node = table_.get(key);
  const int line = node != nullptr ? static_cast<int>(node->source().begin.line) : this->line();
  problems_.push_back({line, path_.empty() ? key : path_ + (key.empty() ? "" : "." + key), message});
}

const toml::node* Section::node(const std::string& key) { return ask(key); }

std::optional<std::string> Section::text(const std::string& key) {
  const toml::node* node = ask(key);
  if (node == nullptr) return std::nullopt;
  if (const auto* value = node->as_string(); value != nullptr && !value->get().empty()) return value->get();
  complain(key, node->is_number() ? "is a bare number; write it in quotes with its unit" : "must be text in quotes");
  return std::nullopt;
}

std::optional<double> Section::number(const std::string& key, double above, double most) {
  const toml::node* node = ask(key);
  if (node == nullptr) return std::nullopt;
  const auto value = node->value<double>();
  if (node->is_number() && value && *value > above && *value <= most) return *value;
  complain(key, node->is_number() ? "is out of range" : "must be a number, without quotes");
  return std::nullopt;
}

std::optional<int> Section::integer(const std::string& key, int least, int most) {
  const toml::node* node = ask(key);
  if (node == nullptr) return std::nullopt;
  const auto value = node->is_integer() ? node->value<std::int64_t>() : std::nullopt;
  if (value && *value >= least && *value <= most) return static_cast<int>(*value);
  complain(key, "must be a whole number from " + std::to_string(least) + " to " + std::to_string(most));
  return std::nullopt;
}

std::optional<bool> Section::flag(const std::string& key) {
  const toml::node* node = ask(key);
  if (node == nullptr) return std::nullopt;
  if (node->is_boolean()) return node->value<bool>();
  complain(key, "must be true or false");
  return std::nullopt;
}

std::optional<std::chrono::year_month_day> Section::date(const std::string& key) {
  const toml::node* node = ask(key);
  if (node == nullptr) return std::nullopt;
  std::optional<std::chrono::year_month_day> date;
  if (const auto* written = node->as_string()) date = parse_date(written->get());
  if (const auto* written = node->as_date()) {
    const toml::date value = written->get();
    date = std::chrono::year(value.year) / value.month / value.day;
  }
  if (date && date->ok()) return date;
  complain(key, "is no date that exists; write it like 2026-02-28");
  return std::nullopt;
}

std::vector<std::string> Section::texts(const std::string& key) {
  std::vector<std::string> list;
  const toml::array* written = array(key);
  if (written == nullptr) return list;
  for (const toml::node& node : *written) {
    const auto* value = node.as_string();
    if (value == nullptr || value->get().empty()) {
      complain(key, "must be a list of texts in quotes");
      return {};
    }
    list.push_back(value->get());
  }
  return list;
}

const toml::array* Section::array(const std::string& key) {
  const toml::node* node = ask(key);
  if (node == nullptr) return nullptr;
  if (node->is_array()) return node->as_array();
  complain(key, "must be a list in square brackets");
  return nullptr;
}

const toml::table* Section::table(const std::string& key) {
  const toml::node* node = ask(key);
  if (node == nullptr) return nullptr;
  if (node->is_table()) return node->as_table();
  complain(key, "must be a table in braces, { .. }");
  return nullptr;
}

void Section::require(bool present, const std::string& key, const std::string& example) {
  if (!present && table_.get(key) == nullptr) complain(key, "is missing; write " + key + " = " + example);
}

void Section::finish() {
  for (const auto& [name, node] : table_) {
    const std::string key(name.str());
    if (std::find(asked_.begin(), asked_.end(), key) != asked_.end()) continue;
    const std::string near = nearest(key, asked_);
    complain(key, near.empty() ? "is not known here; known are " + joined(asked_)
                               : "is not known here; was " + near + " meant?");
  }
}

}  // namespace scale::record
