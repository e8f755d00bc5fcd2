// Real documents against the schema that docs/ publishes, and the schema's codes against the page that lists them.
#include "json_schema.h"

#include <doctest/doctest.h>

#include "documents.h"
#include "process.h"
#include "scenes.h"

namespace cli_test {
namespace {

using nlohmann::json;

json calibration_schema() { return json::parse(read_file(CALIBRATION_SCHEMA)); }

json real_document() {
  const TemporaryFolder folder;
  write_file(folder / "a.bmp", ruling_bmp());
  write_file(folder / "b.bmp", blank_bmp());
  write_file(folder / "c.png", "no picture");
  const Finished run =
      gradus({"calibrate", folder.path().string(), "--division", "10um", "--expect", "0.069um/px", "--json", "-"});
  return json::parse(run.output);
}

TEST_CASE("what calibrate writes is valid by its published schema") {
  const json document = real_document();
  REQUIRE(document.at("results").size() == 3);
  CHECK(document["results"][0]["status"] == "calibrated");
  CHECK(document["results"][1]["status"] == "refused");
  CHECK(document["results"][2]["reason"]["code"] == "unreadable");
  for (const std::string& violation : schema_violations(calibration_schema(), document)) FAIL_CHECK(violation);
}

TEST_CASE("the schema refuses what is missing, unknown, of another type or out of range") {
  const json schema = calibration_schema(), good = real_document();
  const auto broken = [&](const std::string& pointer, const json& value) {
    json document = good;
    document[json::json_pointer(pointer)] = value;
    return !schema_violations(schema, document).empty();
  };
  CHECK(broken("/schema", "gradus/calibration/2"));
  CHECK(broken("/results/0/um_per_pixel/value", nullptr));
  CHECK(broken("/results/0/um_per_pixel/value", 0.0));
  CHECK(broken("/results/0/axes", json::array()));
  CHECK(broken("/results/0/axes/0/graduations", 2));
  CHECK(broken("/results/0/surprise", 1));
  CHECK(broken("/results/0/warnings/0/code", "unheard-of"));
  CHECK(broken("/results/1/reason/code", "unheard-of"));
  json lacking = good;
  lacking["results"][0].erase("pixels_per_um");
  CHECK_FALSE(schema_violations(schema, lacking).empty());
}

TEST_CASE("the validator complains of a keyword it does not know") {
  CHECK_FALSE(schema_violations(json{{"pattern", "x"}}, json("x")).empty());
}

TEST_CASE("the codes of the schema are those of the page on formats") {
  const json schema = calibration_schema();
  const std::string page = read_file(FORMATS_PAGE);
  CHECK(as_set(schema["$defs"]["refused"]["properties"]["reason"]["properties"]["code"]["enum"]) ==
        codes_listed(page, "### Why an image was refused"));
  CHECK(as_set(schema["$defs"]["warnings"]["items"]["properties"]["code"]["enum"]) ==
        codes_listed(page, "### Warnings"));
  CHECK(as_set(schema["$defs"]["flags"]["items"]["properties"]["code"]["enum"]) == codes_listed(page, "### Flags"));
}

}  // namespace
}  // namespace cli_test
