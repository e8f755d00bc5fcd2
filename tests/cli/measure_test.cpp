// gradus measure through the program: rows, factors from the register, broken runs, and what it refuses.
#include <doctest/doctest.h>

#include <filesystem>
#include <set>

#include "documents.h"
#include "json_schema.h"
#include "measure_factor.h"
#include "measure_table.h"
#include "rooms.h"
#include "specimens.h"

namespace cli_test {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr double kFibre = 24.0;  // pixels

Finished measure(const TemporaryFolder& folder, std::vector<std::string> arguments) {
  arguments.insert(arguments.begin(), "measure");
  return gradus(arguments, {folder.path(), false, ""});
}

json document_of(const TemporaryFolder& folder, std::vector<std::string> arguments) {
  arguments.insert(arguments.end(), {"--json", "-", "--quiet"});
  return json::parse(measure(folder, arguments).output);
}

std::vector<std::string> fields_of(const std::string& line) {
  std::vector<std::string> fields{""};
  for (const char c : line) {
    if (c == ',')
      fields.emplace_back();
    else
      fields.back() += c;
  }
  return fields;
}

TEST_CASE("--report writes the page of the run: distribution, bodies, pictures and what was refused") {
  const TemporaryFolder folder;
  render(folder / "s/a.png", 640, 360, kFibre);
  render(folder / "s/b.png", 640, 360, 0.0);
  const std::vector<std::string> arguments = {"s",     "--um-per-pixel", "0.5",      "--aperture",
                                              "0.4",   "--quiet",        "--report", "pages",
                                              "--csv", "w & w.csv",      "--at",     "2026-03-01T08:00:00Z"};
  CHECK(measure(folder, arguments).exit_code == 1);
  const std::string page = read_file(folder / "pages/measurement.html");
  for (const char* part : {"fibre: width", "id=\"sizes-1-t\"", "not complete", "src=\"measurement-1.jpg\"",
                           "s/<wbr>a.png", "Nothing measured", "s/<wbr>b.png", "href=\"../w%20%26%20w.csv\"",
                           "1 body in 2 images", "Not for diagnosis or regulated counting without validation"}) {
    CAPTURE(part);
    CHECK(contains(page, part));
  }
  CHECK(!contains(page, "√(4πA)/P"));  // of grains, of which there are none
  CHECK(fs::exists(folder / "pages/measurement-1.jpg"));
  CHECK(measure(folder, arguments).exit_code == 1);
  CHECK(read_file(folder / "pages/measurement.html") == page);
}

TEST_CASE("a picture with a fibre gives one row with its width, and a blank one gives its reason and no row") {
  const TemporaryFolder folder;
  render(folder / "s/a.png", 640, 360, kFibre);
  render(folder / "s/b.png", 640, 360, 0.0);
  const Finished run = measure(folder, {"s", "--um-per-pixel", "0.5", "--factor-uncertainty", "0.2 %", "--aperture",
                                        "0.4", "--csv", "w.csv", "--json", "w.json", "--pictures", "seen"});
  CHECK(run.exit_code == 1);  // an image has no bodies
  CHECK(contains(run.output, "refused: no-bodies"));
  CHECK(contains(run.output, "shared by all of them"));
  const auto lines = lines_of(read_file(folder / "w.csv"));
  REQUIRE(lines.size() == 2);
  CHECK(lines[0].starts_with("image,object,x_px,y_px,kind,width_um,width_expanded_uncertainty_um"));
  const auto fields = fields_of(lines[1]);
  REQUIRE(fields.size() == fields_of(lines[0]).size());
  CHECK(fields[0] == "s/a.png");
  CHECK(fields[4] == "fibre");
  CHECK(within(std::stod(fields[5]), 0.5 * kFibre, 0.02));
  const json document = json::parse(read_file(folder / "w.json"));
  for (const std::string& violation : schema_violations(json::parse(read_file(MEASUREMENT_SCHEMA)), document))
    FAIL_CHECK(violation);
  CHECK(document["results"][1]["reason"]["code"] == "no-bodies");
  CHECK(document["summary"][0]["bodies"] == 1);
  CHECK(fs::exists(folder / "seen/s_a.png.png"));
  CHECK(fs::exists(folder / "seen/s_b.png.png"));
}

TEST_CASE("the factor comes from the register, and the run that used it can be found again") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  render(folder / "fibres/a.png", 640, 360, kFibre);
  const Finished run = measure(folder, {"fibres", "--setup", "wool-10x", "--at", "2026-03-02T08:00:00Z", "--record",
                                        "--operator", "A. Tester", "--json", "w.json"});
  CHECK(run.exit_code == 0);
  const json document = json::parse(read_file(folder / "w.json"));
  const json& result = document["results"][0];
  CHECK(result["setup"] == "wool-10x");
  const double factor = result["um_per_pixel"]["value"];
  CHECK(within(factor, 10.0 / 14.5, 1e-3));
  CHECK(within(result["bodies"][0]["width_um"]["value"], factor * kFibre, 0.03));
  // The lab file states the aperture, so the edge convention is in U.
  CHECK(result["bodies"][0]["notes"] == json{"factor-not-stated"});  // the room states no repeatability
  CHECK(result["bodies"][0]["width_um"]["shared_uncertainty"].get<double>() >
        2.0 * 0.11 * 0.55 / 0.25 / std::sqrt(3.0));
  REQUIRE(document["records"].size() == 1);
  const json records = json::parse(in_register(folder, {"export", "--json", "-"}).output).at("records");
  const json& record = records.back();
  CHECK(record["kind"] == "measurement");
  CHECK(record["about"] == result["um_per_pixel"]["record"]);
  const json content = json::parse(record["content"].get<std::string>());
  CHECK(content["images"][0]["sha256"].get<std::string>().size() == 64);
  CHECK(content["summary"][0]["bodies"] == 1);
  const Finished affected = in_register(folder, {"affected", "wool-10x", "--since", "2026-03-01"});
  CHECK(affected.exit_code == 0);
  CHECK(contains(affected.output, "measurement"));
  CHECK_FALSE(contains(in_register(folder, {"affected", "wool-10x", "--since", "2026-03-03"}).output, "measurement"));
}

TEST_CASE("the curve of grey values comes from the lab file, and the command line goes before it") {
  const TemporaryFolder folder;
  const auto shared = [&](const std::string& key, std::vector<std::string> more) {
    write_file(folder / "lab.toml", with(kRoom, "tolerance = \"0.5 %\"", key + "tolerance = \"0.5 %\""));
    std::vector<std::string> arguments = {"fibres", "--setup", "wool-10x", "--at", "2026-03-02T08:00:00Z"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const json body = document_of(folder, arguments)["results"][0]["bodies"][0];
    return body["width_um"]["shared_uncertainty"].get<double>();
  };
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  render(folder / "fibres/a.png", 640, 360, kFibre);
  const double unknown = shared("", {}), linear = shared("gamma = \"linear\"\n", {});
  CHECK(linear < unknown);  // the component is gone
  CHECK(shared("gamma = 1\n", {}) == linear);
  CHECK(shared("", {"--gamma", "linear"}) == linear);
  CHECK(shared("gamma = \"srgb\"\n", {"--gamma", "linear"}) == linear);
  CHECK(shared("gamma = \"srgb\"\n", {}) == shared("", {"--gamma", "srgb"}));
  write_file(folder / "lab.toml", with(kRoom, "tolerance = \"0.5 %\"", "gamma = \"bright\"\n"));
  const Finished wrong = measure(folder, {"fibres", "--setup", "wool-10x"});
  CHECK(wrong.exit_code == 2);
  CHECK(contains(wrong.errors, "setup.wool-10x.gamma must be \"linear\", \"srgb\" or an exponent from 0.2 to 5"));
}

TEST_CASE("an overdue calibration is refused, or told in every row") {
  const TemporaryFolder folder;
  furnish(folder, with(kRoom, "tolerance = \"0.5 %\"", "tolerance = \"0.5 %\"\nrecalibrate_every = \"30 d\""));
  REQUIRE(record_room(folder).exit_code == 0);
  render(folder / "fibres/a.png", 640, 360, kFibre);
  const std::vector<std::string> late = {"fibres", "--setup", "wool-10x", "--at", "2026-04-01T00:00:00Z"};
  CHECK(document_of(folder, late)["results"][0]["reason"]["code"] == "overdue");
  auto accepted = late;
  accepted.push_back("--accept-overdue");
  const json result = document_of(folder, accepted)["results"][0];
  CHECK(result["um_per_pixel"]["overdue"] == true);
  CHECK(result["bodies"][0]["notes"][0] == "calibration-overdue");
  const json in_time = document_of(folder, {"fibres", "--setup", "wool-10x", "--at", "2026-03-30T00:00:00Z"});
  CHECK(in_time["results"][0]["um_per_pixel"]["overdue"] == false);
  CHECK(contains(measure(folder, accepted).output, "was due again on"));
  const json early = document_of(folder, {"fibres", "--setup", "wool-10x", "--at", "2026-02-27T00:00:00Z"});
  CHECK(early["results"][0]["reason"]["code"] == "no-calibration");
  CHECK(contains(early["results"][0]["reason"]["message"], "is of 2026-02-28, after the day"));
}

TEST_CASE("another size is refused, and a half one is binned only when that is said") {
  const TemporaryFolder folder;
  furnish(folder);
  REQUIRE(record_room(folder).exit_code == 0);
  render(folder / "odd/a.png", 600, 360, kFibre);
  render(folder / "half/a.png", 320, 180, 0.5 * kFibre);
  const std::vector<std::string> half = {"half", "--setup", "wool-10x", "--at", kDay};
  CHECK(document_of(folder, {"odd", "--setup", "wool-10x", "--at", kDay,
                             "--binning"})["results"][0]["reason"]["code"] == "other-size");
  const json refused = document_of(folder, half)["results"][0];
  CHECK(refused["reason"]["code"] == "other-size");
  CHECK(contains(refused["reason"]["message"], "--binning"));
  auto binned = half;
  binned.push_back("--binning");
  const json result = document_of(folder, binned)["results"][0];
  CHECK(within(result["um_per_pixel"]["x"], 2.0 * 10.0 / 14.5, 2e-3));
  CHECK(within(result["bodies"][0]["width_um"]["value"], 10.0 / 14.5 * kFibre, 0.06));
}

TEST_CASE("bodies outside the area that was calibrated say so, whatever the lab file says afterwards") {
  const TemporaryFolder folder;
  const std::string size = "image_size = [640, 360]\n";
  furnish(folder, with(kRoom, size, size + "measuring_area = [0, 0, 320, 360]\n"));
  REQUIRE(record_room(folder).exit_code == 0);
  render(folder / "s/a.png", 640, 360, kFibre);
  render(folder / "half/a.png", 320, 180, 0.5 * kFibre);
  write_file(folder / "lab.toml", kRoom);
  const auto notes_of = [&](const std::vector<std::string>& arguments) {
    return document_of(folder, arguments)["results"][0]["bodies"][0]["notes"].dump();
  };
  const json across = document_of(folder, {"s", "--setup", "wool-10x", "--at", kDay});
  CHECK(contains(across["results"][0]["warnings"].dump(), "outside-area"));
  CHECK(contains(notes_of({"s", "--setup", "wool-10x", "--at", kDay}), "outside-area"));
  CHECK(!contains(notes_of({"s", "--setup", "wool-10x", "--at", kDay, "--region", "0,0,319,360"}), "outside-area"));
  const std::vector<std::string> binned = {"half", "--setup", "wool-10x", "--at", kDay, "--binning"};
  CHECK(contains(notes_of(binned), "outside-area"));
  auto left = binned;
  left.insert(left.end(), {"--region", "0,0,159,180"});
  CHECK(!contains(notes_of(left), "outside-area"));
}

// U of the first set-up's factor, as a share, where the register holds this distortion and this field component.
double shared_by_all(double distortion, double doubt, const std::string& basis) {
  const TemporaryFolder folder;
  write_file(folder / "lab.toml", kRoom);
  std::vector<std::string> problems;
  const auto room = ::gradus::read_lab_room((folder / "lab.toml").string(), problems);
  REQUIRE(room);
  // u of 5e-4 in all, of which 4e-4 is the field's.
  const json field = {{"component", "field"}, {"stated", true}, {"contribution_um_per_pixel", 4e-4}, {"basis", basis}};
  const json result = {
      {"um_per_pixel", {{"value", 1.0}, {"expanded_uncertainty", 1e-3}, {"coverage_factor", 2.0}}},
      {"separation",
       {{"significant", distortion != 0.0}, {"distortion", distortion}, {"distortion_uncertainty", doubt}}},
      {"budget", {field}}};
  auto reg = scale::Register::create(room->register_path());
  REQUIRE(reg);
  scale::RecordDraft draft{"calibration", "wool-10x", std::nullopt, kDay, "A. Tester", json{{"result", result}}.dump()};
  REQUIRE(reg->append_calibration(draft, room->text));
  std::string problem;
  const auto factors = ::gradus::factors_of_register(*room, {}, "2026-03-01", problem);
  return std::hypot(factors[0].scale.relative_uncertainty, factors[0].scale.local_uncertainty);
}

TEST_CASE("a distortion that is taken out place by place is not charged as well") {
  constexpr double kSum = 1e-7;  // of shares: the arithmetic is exact but for rounding
  CHECK(within(shared_by_all(2e-3, 0.0, "distortion of the optics over the measuring area"), 3e-4, kSum));
  // Half of the variance is the doubt about the distortion, which stays.
  CHECK(within(shared_by_all(2e-3, 2e-3, "distortion of the optics over the measuring area"), std::sqrt(9e-8 + 8e-8),
               kSum));
  CHECK(within(shared_by_all(2e-3, 0.0, "as stated"), 5e-4, kSum));
  // No distortion known: a place may be off by twice the field's part.
  CHECK(within(shared_by_all(0.0, 0.0, "largest departure"), std::hypot(5e-4, 8e-4), kSum));
}

TEST_CASE("no register, no such set-up and no calibration are told with what to do") {
  const TemporaryFolder folder;
  furnish(folder);
  render(folder / "fibres.png", 640, 360, kFibre);
  const Finished none = measure(folder, {"fibres.png", "--setup", "wool-10x"});
  CHECK(none.exit_code == 2);
  CHECK(contains(none.errors, "there is no register"));
  REQUIRE(record_room(folder, {"--quiet"}).exit_code < 2);  // the fibres are no shots of a scale
  const Finished unknown = measure(folder, {"fibres.png", "--setup", "wool-99x"});
  CHECK(unknown.exit_code == 2);
  CHECK(contains(unknown.errors, "no set-up 'wool-99x'"));
  in_register(folder, {"withdraw", "2", "--reason", "a test", "--operator", "A. Tester", "--at", kDay});
  const json result = document_of(folder, {"fibres.png", "--setup", "wool-10x", "--at", kDay})["results"][0];
  CHECK(result["reason"]["code"] == "no-calibration");
}

TEST_CASE("a broken run goes on to the same bytes, at whatever byte it was broken off") {
  const TemporaryFolder folder;
  for (int i = 0; i < 4; ++i)
    render(folder / ("s/" + std::string(1, static_cast<char>('a' + i)) + ".png"), 320, 240, i == 2 ? 0.0 : 14.0 + i, i);
  const std::vector<std::string> how = {"s", "--um-per-pixel", "0.5", "--quiet", "--csv"};
  const auto run_with = [&](const std::string& csv, std::vector<std::string> more) {
    auto arguments = how;
    arguments.push_back(csv);
    arguments.insert(arguments.end(), more.begin(), more.end());
    return measure(folder, arguments);
  };
  run_with("whole.csv", {"--jobs", "1"});
  run_with("two.csv", {"--jobs", "2"});
  const std::string whole = read_file(folder / "whole.csv");
  CHECK(read_file(folder / "two.csv") == whole);
  CHECK(lines_of(whole).size() == 4);
  for (const double share : {0.0, 0.2, 0.5, 0.75, 0.99, 1.0}) {
    write_file(folder / "broken.csv",
               whole.substr(0, static_cast<std::size_t>(share * static_cast<double>(whole.size()))));
    run_with("broken.csv", {"--resume"});
    CHECK(read_file(folder / "broken.csv") == whole);
  }
  const std::string half = whole.substr(0, whole.size() * 4 / 5);  // with whole rows of an image
  write_file(folder / "broken.csv", half);
  const Finished other =
      measure(folder, {"s", "--um-per-pixel", "0.6", "--csv", "broken.csv", "--resume", "--pictures", "seen"});
  CHECK(other.exit_code == 2);
  CHECK(contains(other.errors, "another factor"));
  CHECK(read_file(folder / "broken.csv") == half);
  CHECK((!fs::exists(folder / "seen") || fs::is_empty(folder / "seen")));
  const std::string notes = "what somebody wrote, without an end of line";
  write_file(folder / "notes.txt", notes);
  CHECK(run_with("notes.txt", {"--resume"}).exit_code == 2);
  CHECK(read_file(folder / "notes.txt") == notes);
}

TEST_CASE("edges along a line, in every image") {
  const TemporaryFolder folder;
  render(folder / "a.png", 640, 360, 60.0);
  const json document =
      document_of(folder, {"a.png", "--um-per-pixel", "0.5", "--across", "320,60:320,300", "--band", "5"});
  const json& body = document["results"][0]["bodies"][0];
  CHECK(body["kind"] == "across");
  // The fibre falls by 72 pixels over 560: along a line straight down it is wider by one over the cosine.
  CHECK(within(body["width_um"]["value"], 0.5 * 60.0 * std::hypot(1.0, 72.0 / 560.0), 0.05));
  CHECK(document["summary"][0]["quantity"] == "interval 1");
}

TEST_CASE("a calibration of an eyepiece reticle is worth nothing to a pixel") {
  const TemporaryFolder folder;
  write_file(folder / "lab.toml", kRoom + "[[setup]]\nname = \"eyepiece\"\nscale = \"SM-A\"\nkind = \"reticle\"\n");
  REQUIRE(gradus({"reticle", "--setup", "eyepiece", "--record", "--operator", "A. Tester", "--at", kDay, "0=0", "49=50",
                  "98=100"},
                 {folder.path(), false, ""})
              .exit_code == 0);
  render(folder / "fibres.png", 640, 360, kFibre);
  const json result = document_of(folder, {"fibres.png", "--setup", "eyepiece", "--at", kDay})["results"][0];
  CHECK(result["reason"]["code"] == "no-calibration");
  CHECK(contains(result["reason"]["message"], "of an eyepiece reticle, per division; choose a camera's set-up"));
}

gradus::SpecimenOutcome outcome_of(const std::string& image, double width_um) {
  gradus::SpecimenOutcome outcome;
  outcome.image = image;
  if (width_um > 0.0) {
    scale::MeasuredBody body;
    body.width_um = {width_um, 0.1, 0.1};
    outcome.bodies.push_back(body);
  } else {
    outcome.reason = scale::Failure{"judgement", "no-bodies", "nothing seen"};
  }
  return outcome;
}

TEST_CASE("a table of many images still names the refused ones") {
  gradus::ImageTable table;
  for (int i = 0; i < 70; ++i) table.add(outcome_of("good" + std::to_string(i), 20.0));
  table.add(outcome_of("blank0", 0.0));
  const std::string text = table.text();
  CHECK(contains(text, "blank0 "));
  CHECK(contains(text, "and 10 more images\n"));
  CHECK(contains(text, "70 bodies in 70 images, 1 refused."));
  for (int i = 1; i < 63; ++i) table.add(outcome_of("blank" + std::to_string(i), 0.0));
  CHECK(contains(table.text(), "and 13 more images, 3 of them refused\n"));
}

TEST_CASE("too many classes to show are told, and that they were widened") {
  std::vector<scale::SizedBody> bodies;
  for (int i = 0; i < 100; ++i) bodies.push_back({1.0 + i, 1.0, 0.0, 0.1, 0.1});
  const auto text_of = [&](double class_width) {
    scale::DistributionOptions options;
    options.class_width = class_width;
    const gradus::Summary summary{"", 0, "fibre", "width", "length", 0, scale::distribution_of(bodies, options)};
    return gradus::summary_table({summary}, options, true, true);
  };
  CHECK(contains(text_of(10.0), "from µm"));
  CHECK(contains(text_of(1.0), "  100 classes: too many to show; give a larger --class-width, or see --json.\n"));
  CHECK(contains(text_of(0.1), " classes, widened to 0.3 µm: too many to show"));
}

TEST_CASE("edges shifted inwards until nothing is left of a body are refused, of fibres and of grains") {
  const TemporaryFolder folder;
  render(folder / "a.png", 640, 360, 60.0);
  for (const std::string kind : {"fibre", "grain"}) {
    const auto with_shift = [&](const std::string& shift) {
      return measure(folder, {"a.png", "--um-per-pixel", "0.5", "--kind", kind, "--edge-shift", shift});
    };
    CHECK(with_shift("-2um").exit_code == 0);
    const Finished run = with_shift("-60um");
    CHECK(run.exit_code == 1);
    CHECK(contains(run.output, "refused: edge-shift"));
  }
}

TEST_CASE("options that do not fit together are bad usage, with the way out") {
  const TemporaryFolder folder;
  render(folder / "a.png", 320, 240, kFibre);
  const std::vector<std::vector<std::string>> wrong = {
      {"a.png"},
      {"a.png", "--um-per-pixel", "0"},
      {"a.png", "--um-per-pixel", "0.5", "--setup", "x"},
      {"a.png", "--um-per-pixel", "0.5", "--record", "--operator", "A"},
      {"a.png", "--um-per-pixel", "0.5", "--resume"},
      {"a.png", "--um-per-pixel", "0.5", "--across", "1,2:3"},
      {"a.png", "--um-per-pixel", "0.5", "--band", "5"},
      {"a.png", "--um-per-pixel", "0.5", "--across", "0,0:90,90", "--part"},
      {"a.png", "--um-per-pixel", "0.5", "--aperture", "0.4", "--edge-within", "0.1um"},
      {"a.png", "--setup", "x", "--factor-uncertainty", "1 %"},
      {"a.png", "--um-per-pixel", "0.5", "--edge-within", "-1um"},
      {"a.png", "--um-per-pixel", "0.5", "--edge-within", "1mm"},
      {"a.png", "--um-per-pixel", "0.5", "--edge-shift", "-1mm"},
      {"a.png", "--um-per-pixel", "0.5", "--csv", "w.csv", "--resume", "--report", "pages"},
      {"a.png", "--um-per-pixel", "0.5", "--at", "2026-03-01T08:00:00Z"}};
  for (const auto& arguments : wrong) {
    const Finished run = measure(folder, arguments);
    CHECK_MESSAGE(run.exit_code == 2, arguments.back());
    CHECK(contains(run.errors, "--help"));
  }
}

TEST_CASE("the codes of measure in the schema are those of the page on formats") {
  const json definitions = json::parse(read_file(MEASUREMENT_SCHEMA))["$defs"];
  const std::string page = read_file(FORMATS_PAGE);
  CHECK(as_set(definitions["refused"]["properties"]["reason"]["properties"]["code"]["enum"]) ==
        codes_listed(page, "### Why an image was not measured"));
  CHECK(as_set(definitions["body"]["properties"]["notes"]["items"]["enum"]) ==
        codes_listed(page, "### Notes on a body"));
  auto warnings = codes_listed(page, "### Warnings of `measure`");
  for (const char* of_file :
       {"alpha-ignored", "bilevel", "channel-ignored", "extra-channels", "further-pages", "orientation-tag"})
    warnings.insert(of_file);
  CHECK(as_set(definitions["warnings"]["items"]["properties"]["code"]["enum"]) == warnings);
}

}  // namespace
}  // namespace cli_test
