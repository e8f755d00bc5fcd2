// A set-up's calibration as JSON: in the document of `calibrate`, and in the register.
#pragma once

#include <nlohmann/json.hpp>

#include "setups.h"

namespace gradus {

using Json = nlohmann::ordered_json;

// {code, message} of a failure, warning, flag or evidence.
template <class Spoken>
Json code_and_message(const Spoken& spoken);

// A list of them.
template <class Spoken>
Json list_json(const std::vector<Spoken>& list) {
  Json json = Json::array();
  for (const Spoken& spoken : list) json.push_back(code_and_message(spoken));
  return json;
}

// What was found in an image that kept its shot, and what its file says of itself.
Json input_json(const Outcome& outcome);

Json factor_json(const scale::CalibrationFactor& factor);

// JSON has no infinity: null stands for infinitely many.
Json freedom_json(double degrees_of_freedom);

// A list, an object a component; `per` is "pixel" or "division".
Json budget_json(const std::vector<scale::BudgetLine>& budget, const std::string& per);

// An object of the list `setups`; docs/formats.md has its fields.
Json setup_json(const SetupOutcome& setup, const std::vector<Outcome>& outcomes);

// The content of a calibration's record: everything needed to redo the sum. `accepted` is why flags were let pass;
// empty when there was nothing to accept.
std::string record_content(const SetupOutcome& setup, const std::vector<Outcome>& outcomes, const scale::Lab& lab,
                           const std::string& accepted);

// The same of a single image without a lab file; it is never recorded, but gets a sheet.
std::string image_content(const Outcome& outcome);

}  // namespace gradus
