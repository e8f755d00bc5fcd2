// The part of JSON Schema (draft 2020-12) that the schemas in docs/ use, for the tests.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace cli_test {

// What of `document` breaks `schema`, each with its place; empty when it is valid. A keyword that is not known
// here is itself a complaint, so that nothing is passed over in silence.
std::vector<std::string> schema_violations(const nlohmann::json& schema, const nlohmann::json& document);

}  // namespace cli_test
