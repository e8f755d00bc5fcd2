// A table of the lab file while it is read: each key is asked for by name, and what nobody asked for is a problem.
#pragma once

#include <scale/lab.h>
#include <scale/quantity_text.h>

#include <toml++/toml.h>

namespace scale::record {

class Section {
 public:
  // `path` names the table in messages, "setup.wool-10x"; problems are added to `problems`.
  Section(const toml::table& table, std::string path, std::vector<LabProblem>& problems)
      : table_(table), path_(std::move(path)), problems_(problems) {}

  std::optional<std::string> text(const std::string& key);
  std::optional<double> number(const std::string& key, double above, double most);
  std::optional<int> integer(const std::string& key, int least, int most);
  std::optional<bool> flag(const std::string& key);
  std::optional<std::chrono::year_month_day> date(const std::string& key);
  std::vector<std::string> texts(const std::string& key);
  const toml::array* array(const std::string& key);
  // The table at `key`; nullptr when absent or, with a problem, when it is something else.
  const toml::table* table(const std::string& key);
  // Whatever stands there, for keys that take several forms.
  const toml::node* node(const std::string& key);

  // A quantity with its unit, by one of the parsers of quantity_text.h.
  template <class Value>
  std::optional<Value> quantity(const std::string& key, Parsed<Value> (*parse)(std::string_view)) {
    const auto written = text(key);
    if (!written) return std::nullopt;
    const auto value = parse(*written);
    if (value) return *value;
    complain(key, value.error());
    return std::nullopt;
  }

  // Demands what has been asked for before.
  void require(bool present, const std::string& key, const std::string& example);
  void complain(const std::string& key, const std::string& message);
  // Names every key that was not asked for, with the nearest one that could have been.
  void finish();

  const std::string& path() const { return path_; }
  std::vector<LabProblem>& problems() { return problems_; }
  int line() const { return static_cast<int>(table_.source().begin.line); }

 private:
  const toml::node* ask(const std::string& key);

  const toml::table& table_;
  std::string path_;
  std::vector<LabProblem>& problems_;
  std::vector<std::string> asked_;
};

}  // namespace scale::record
