#include "json_schema.h"

#include <algorithm>
#include <functional>
#include <map>

namespace cli_test {
namespace {

using nlohmann::json;
using Violations = std::vector<std::string>;

struct Visit {
  const json& root;    // the whole schema, for "$ref"
  const json& schema;  // the part that applies here
  const json& value;
  std::string place;
};

Violations check(const Visit& visit);

Violations when(bool broken, const Visit& visit, const std::string& keyword) {
  return broken ? Violations{visit.place + " breaks " + keyword + ' ' + visit.schema.at(keyword).dump()} : Violations{};
}

bool has_type(const json& value, const std::string& type) {
  if (type == "integer") return value.is_number_integer();
  if (type == "number") return value.is_number();
  if (type == "boolean") return value.is_boolean();
  if (type == "string") return value.is_string();
  if (type == "object") return value.is_object();
  if (type == "array") return value.is_array();
  return type == "null" && value.is_null();
}

Violations check_type(const Visit& visit) {
  const json& types = visit.schema.at("type");
  const json list = types.is_array() ? types : json::array({types});
  const bool any = std::any_of(list.begin(), list.end(), [&](const json& t) { return has_type(visit.value, t); });
  return when(!any, visit, "type");
}

Violations check_required(const Visit& visit) {
  Violations found;
  for (const json& name : visit.schema.at("required"))
    if (!visit.value.contains(name.get<std::string>())) found.push_back(visit.place + " lacks " + name.dump());
  return found;
}

Violations check_properties(const Visit& visit) {
  Violations found;
  for (const auto& [name, part] : visit.schema.at("properties").items()) {
    if (!visit.value.contains(name)) continue;
    const Violations more = check({visit.root, part, visit.value.at(name), visit.place + '/' + name});
    found.insert(found.end(), more.begin(), more.end());
  }
  return found;
}

// Only "false" is in use.
Violations check_additional(const Visit& visit) {
  Violations found;
  for (const auto& [name, ignored] : visit.value.items())
    if (!visit.schema.at("properties").contains(name)) found.push_back(visit.place + " has the unknown " + name);
  return found;
}

Violations check_items(const Visit& visit) {
  Violations found;
  for (std::size_t i = 0; i < visit.value.size(); ++i) {
    const Violations more =
        check({visit.root, visit.schema.at("items"), visit.value.at(i), visit.place + '/' + std::to_string(i)});
    found.insert(found.end(), more.begin(), more.end());
  }
  return found;
}

Violations check_one_of(const Visit& visit) {
  int valid = 0;
  Violations found;
  for (const json& part : visit.schema.at("oneOf")) {
    const Violations more = check({visit.root, part, visit.value, visit.place});
    valid += more.empty() ? 1 : 0;
    found.insert(found.end(), more.begin(), more.end());
  }
  if (valid == 1) return {};
  found.insert(found.begin(), visit.place + " matches " + std::to_string(valid) + " of oneOf");
  return found;
}

Violations check_reference(const Visit& visit) {
  const json::json_pointer pointer(visit.schema.at("$ref").get<std::string>().substr(1));
  return check({visit.root, visit.root.at(pointer), visit.value, visit.place});
}

double number(const Visit& visit) { return visit.value.get<double>(); }
double bound(const Visit& visit, const char* keyword) { return visit.schema.at(keyword).get<double>(); }
double length(const Visit& visit) {
  return visit.value.is_string() ? static_cast<double>(visit.value.get<std::string>().size())
                                 : static_cast<double>(visit.value.size());
}

const std::map<std::string, std::function<Violations(const Visit&)>>& keywords() {
  static const std::map<std::string, std::function<Violations(const Visit&)>> table = {
      {"$schema", [](const Visit&) { return Violations{}; }},
      {"$id", [](const Visit&) { return Violations{}; }},
      {"$defs", [](const Visit&) { return Violations{}; }},
      {"title", [](const Visit&) { return Violations{}; }},
      {"$ref", check_reference},
      {"type", check_type},
      {"required", check_required},
      {"properties", check_properties},
      {"additionalProperties", check_additional},
      {"items", check_items},
      {"oneOf", check_one_of},
      {"const", [](const Visit& v) { return when(v.value != v.schema.at("const"), v, "const"); }},
      {"enum",
       [](const Visit& v) {
         const json& list = v.schema.at("enum");
         return when(std::find(list.begin(), list.end(), v.value) == list.end(), v, "enum");
       }},
      {"minimum", [](const Visit& v) { return when(!(number(v) >= bound(v, "minimum")), v, "minimum"); }},
      {"maximum", [](const Visit& v) { return when(!(number(v) <= bound(v, "maximum")), v, "maximum"); }},
      {"exclusiveMinimum",
       [](const Visit& v) { return when(!(number(v) > bound(v, "exclusiveMinimum")), v, "exclusiveMinimum"); }},
      {"minLength", [](const Visit& v) { return when(length(v) < bound(v, "minLength"), v, "minLength"); }},
      {"minItems", [](const Visit& v) { return when(length(v) < bound(v, "minItems"), v, "minItems"); }},
      {"maxItems", [](const Visit& v) { return when(length(v) > bound(v, "maxItems"), v, "maxItems"); }},
  };
  return table;
}

// Keywords about numbers, strings or members say nothing of a value of another type; "type" has complained.
Violations check(const Visit& visit) {
  if (visit.schema.contains("type")) {
    Violations wrong_type = check_type(visit);
    if (!wrong_type.empty()) return wrong_type;
  }
  Violations found;
  for (const auto& [keyword, ignored] : visit.schema.items()) {
    const auto known = keywords().find(keyword);
    const Violations more =
        known != keywords().end() ? known->second(visit) : Violations{"the schema's " + keyword + " is not known here"};
    found.insert(found.end(), more.begin(), more.end());
  }
  return found;
}

}  // namespace

std::vector<std::string> schema_violations(const json& schema, const json& document) {
  return check({schema, schema, document, ""});
}

}  // namespace cli_test
