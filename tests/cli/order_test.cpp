// Results stand in the order of the input, once each, and are the same bytes for any number of threads.
#include <filesystem>

#include "documents.h"
#include "scenes.h"

namespace cli_test {
namespace {

using nlohmann::json;
using Words = std::vector<std::string>;

// Twelve pictures of different sizes, so that they are not done in the order they were begun.
void fill(const TemporaryFolder& folder) {
  for (int i = 0; i < 12; ++i) {
    Ruling ruling;
    ruling.pitch_px = 11.0 + 0.7 * i;
    ruling.width = i % 3 == 0 ? 1400 : 500;
    ruling.height = i % 3 == 0 ? 900 : 300;
    ruling.noise_seed = static_cast<std::uint64_t>(i);
    const std::string name = "shot-" + std::to_string(10 + i) + ".bmp";
    write_file(folder / name, i == 5 ? blank_bmp() : i == 7 ? "broken" : ruling_bmp(ruling));
  }
}

Words images_of(const json& results) {
  Words images;
  for (const json& result : results) images.push_back(result.at("image"));
  return images;
}

TEST_CASE("JSON, CSV, table, messages and pictures are the same bytes for 1, 2 and 4 jobs") {
  const TemporaryFolder folder, out;
  fill(folder);
  Finished first;
  for (const std::string jobs : {"1", "2", "4"}) {
    const Finished run = gradus({"calibrate", folder.path().string(), "--division", "10um", "--jobs", jobs, "--json",
                                 (out / (jobs + ".json")).string(), "--csv", (out / (jobs + ".csv")).string(),
                                 "--pictures", (out / jobs).string()});
    CHECK(run.exit_code == 1);
    if (jobs == "1") first = run;
    CHECK(run.output == first.output);
    CHECK(run.errors == first.errors);
    CHECK(read_file(out / (jobs + ".json")) == read_file(out / "1.json"));
    CHECK(read_file(out / (jobs + ".csv")) == read_file(out / "1.csv"));
    for (const auto& entry : std::filesystem::directory_iterator(out / "1"))
      CHECK(read_file(out.path() / jobs / entry.path().filename()) == read_file(entry.path()));
  }
  const json results = json::parse(read_file(out / "1.json")).at("results");
  Words expected;
  for (int i = 0; i < 12; ++i) expected.push_back((folder / ("shot-" + std::to_string(10 + i) + ".bmp")).string());
  CHECK(images_of(results) == expected);
}

TEST_CASE("files keep the order given, folders the order of names, and nothing is done twice") {
  const TemporaryFolder folder;
  for (const char* name : {"b/2.bmp", "b/10.bmp", "a.bmp", "b/deep/3.bmp"}) write_file(folder / name, ruling_bmp());
  const Surroundings there{folder.path(), false, ""};
  CHECK(images_of(results_of({"b", "a.bmp"}, there)) == Words{"b/10.bmp", "b/2.bmp", "a.bmp"});
  CHECK(images_of(results_of({"a.bmp", "b"}, there)) == Words{"a.bmp", "b/10.bmp", "b/2.bmp"});
  CHECK(images_of(results_of({"b", "--recursive"}, there)) == Words{"b/10.bmp", "b/2.bmp", "b/deep/3.bmp"});
  CHECK(images_of(results_of({"a.bmp", "./a.bmp", "b/2.bmp", "b"}, there)) == Words{"a.bmp", "b/2.bmp", "b/10.bmp"});
  const Finished run = gradus({"calibrate", "a.bmp", "a.bmp", "--division", "10um"}, there);
  CHECK(run.exit_code == 0);
  CHECK(contains(run.errors, "named more than once"));
  CHECK(contains(run.output, "1 calibrated."));
}

}  // namespace
}  // namespace cli_test
