// Whole pages from values.
#include <doctest/doctest.h>

#include <limits>

#include <scale/calibration_page.h>
#include <scale/card_page.h>
#include <scale/check_page.h>
#include <scale/measurement_page.h>
#include <scale/overview_page.h>

namespace scale {
namespace {

const std::string kHostile = "<script>alert(1)</script>\"'&\u202E" + std::string(300, 'x');

BudgetLine line_of(const std::string& name, double contribution) {
  BudgetLine line;
  line.input = {name, 0.0, contribution, Distribution::normal, std::numeric_limits<double>::infinity(), 1.0, 0.0};
  line.contribution = contribution;
  line.basis = "certificate";
  return line;
}

CalibrationSheet sheet_called(const std::string& name) {
  CalibrationSheet sheet;
  sheet.title = sheet.room = sheet.laboratory = sheet.address = name;
  sheet.factor = {0.690213, 0.000141, 2.0};
  sheet.reciprocal = {1.448828, 0.0003, 2.0};
  sheet.degrees_of_freedom = 288.0;
  sheet.budget_complete = true;
  sheet.nominal = 0.69;
  LabSetup setup;
  setup.name = setup.microscope = setup.camera = name;
  setup.tolerance = 0.005;
  sheet.setup = setup;
  LabScale scale;
  scale.name = scale.serial = scale.certificate = scale.laboratory = name;
  scale.reference.division = {10.0};
  scale.reference.uncertainty = CertifiedUncertainty{{0.15}};
  sheet.scale = scale;
  sheet.budget = {line_of("reference scale", 3e-5), line_of("fit", 4e-5)};
  sheet.warnings = {{"w", name}};
  sheet.flags = {{"f", name}};
  sheet.accepted = name;
  sheet.pictures = {{"", 0, 0, name, name, name}};
  sheet.residuals = {{name, 'x', true, {{0.0, 0.01, 0.001, true}, {10.0, -0.01, 0.001, true}}, {}}};
  sheet.shots = {{name, "", 'x', 0.690213, 1e-6, 1.0, true, "", ""}};
  sheet.history = {{3, "2026-02-28T09:30:00Z", 0.690213, 0.000141, "current"}};
  sheet.calibrated = "2026-02-28";
  sheet.record = PageRecord{3, std::string(64, 'a'), "2026-02-28T09:30:00Z", name, "current"};
  sheet.chain = ChainState{5, std::string(64, 'b')};
  return sheet;
}

PageStyle style_of(bool comma = false) { return {comma, "2026-03-01T08:00:00Z", "gradus 0.0.0", "index.html"}; }

bool holds(const std::string& page, const std::string& text) { return page.find(text) != std::string::npos; }

TEST_CASE("nothing that a person or a file says becomes mark-up") {
  const std::string page = calibration_page(sheet_called(kHostile), style_of());
  CHECK(!holds(page, "<script"));
  CHECK(!holds(page, "\u202E"));
  CHECK(holds(page, "&lt;script&gt;"));
  CHECK(holds(page, "[U+202E]"));
  RoomOverview overview;
  overview.room = overview.laboratory = kHostile;
  overview.rows.push_back(
      {kHostile, kHostile, "a.html", std::nullopt, "µm/px", "", "", SetupState::overdue, kHostile, {}});
  overview.refused = {{kHostile, kHostile}};
  CHECK(!holds(overview_page(overview, style_of()), "<script"));
}

TEST_CASE("the same values give the same bytes") {
  CHECK(calibration_page(sheet_called("wool-10x"), style_of()) ==
        calibration_page(sheet_called("wool-10x"), style_of()));
}

TEST_CASE("the factor is rounded by its uncertainty and has its unit, k and probability") {
  const std::string page = calibration_page(sheet_called("wool-10x"), style_of());
  CHECK(holds(page, "0.69021\u202Fµm per pixel"));
  CHECK(holds(page, "U = 0.00014\u202Fµm per pixel"));
  CHECK(holds(page, "k = 2.00"));
  CHECK(holds(page, "95.45\u202F%"));
  CHECK(holds(calibration_page(sheet_called("wool-10x"), style_of(true)), "0,69021\u202Fµm per pixel"));
}

TEST_CASE("shares of the budget are those of the variance") {
  const std::string page = calibration_page(sheet_called("wool-10x"), style_of());
  CHECK(holds(page, "36.0\u202F%"));
  CHECK(holds(page, "64.0\u202F%"));
  CHECK(holds(page, "5.0\u202F×\u202F10⁻⁵"));
}

TEST_CASE("a missing picture leaves a gap that says why") {
  CalibrationSheet sheet = sheet_called("wool-10x");
  sheet.pictures = {{"", 0, 0, "a.png", "", "the file is not where it was"}};
  CHECK(holds(calibration_page(sheet, style_of()), "No picture: <bdi>the file is not where it was</bdi>"));
}

TEST_CASE("what the laboratory must add is told, and what is there is not") {
  CalibrationSheet sheet = sheet_called("wool-10x");
  const std::string whole = calibration_page(sheet, style_of());
  sheet.address.clear();
  sheet.scale->certificate.clear();
  sheet.record.reset();
  sheet.chain.reset();
  const std::string bare = calibration_page(sheet, style_of());
  const auto missing = [](const std::string& page) {
    std::size_t count = 0;
    for (std::size_t at = page.find("must add it"); at != std::string::npos; at = page.find("must add it", at + 1))
      ++count;
    return count;
  };
  CHECK(missing(bare) == missing(whole) + 3);
  for (const char* content :
       {"customer", "departures from the method", "day it was received", "what others provided", "its condition",
        "before and after an adjustment", "which results and which requirements"}) {
    CAPTURE(content);
    CHECK(holds(whole, content));
  }
  CHECK(holds(bare, "No traceability can be claimed"));
  CHECK(!holds(whole, "No traceability can be claimed"));
  CHECK(holds(bare, "not recorded"));
}

TEST_CASE("conformity has its rule, and a value beyond its limit is not met") {
  CalibrationSheet sheet = sheet_called("wool-10x");
  CHECK(holds(calibration_page(sheet, style_of()), "Decision rule: simple acceptance"));
  CHECK(!holds(calibration_page(sheet, style_of()), "<b>not met</b>"));
  sheet.nominal = 0.60;
  CHECK(holds(calibration_page(sheet, style_of()), "<b>not met</b>"));
  sheet.nominal = 0.690213 / 1.0500001;
  CHECK(holds(calibration_page(sheet, style_of()), "not met</b>, closer to the limit than U"));
  sheet.nominal.reset();
  sheet.setup->tolerance.reset();
  CHECK(holds(calibration_page(sheet, style_of()), "No conformity is stated"));
}

TEST_CASE("a component that is not stated is named in the budget and among what was not examined") {
  CalibrationSheet sheet = sheet_called("wool-10x");
  BudgetLine open = line_of("repeatability", 0.0);
  open.stated = false;
  open.basis = "one shot cannot tell";
  sheet.budget.push_back(open);
  const std::string page = calibration_page(sheet, style_of());
  CHECK(holds(page, "not stated"));
  CHECK(holds(page, "<li>repeatability: <bdi>one shot cannot tell</bdi></li>"));
}

TEST_CASE("a page asks no network and runs no script") {
  const std::string page = calibration_page(sheet_called("wool-10x"), style_of());
  CHECK(holds(page, "default-src 'none'"));
  for (const char* bad : {"http:", "https:", "<script", "@import", "url("}) {
    CAPTURE(bad);
    CHECK(!holds(page, bad));
  }
}

TEST_CASE("the overview tells states by sign and word") {
  RoomOverview overview;
  overview.room = "wool room";
  for (const SetupState state : {SetupState::in_order, SetupState::due_soon, SetupState::images_astray,
                                 SetupState::overdue, SetupState::drifted, SetupState::not_calibrated})
    overview.rows.push_back({"s", "", "", std::nullopt, "µm/px", "", "", state, "", {}});
  const std::string page = overview_page(overview, style_of());
  for (const char* word : {"<b>in order</b>", "<b>due soon</b>", "<b>wrong images</b>", "<b>overdue</b>",
                           "<b>drifted</b>", "<b>not calibrated</b>"})
    CHECK(holds(page, word));
  CHECK(holds(page, "6 set-ups: 1 in order, 1 due soon, 1 with wrong images, 1 overdue, 1 drifted, 1 not calibrated"));
}

TEST_CASE("images that were checked without a scale are counted where there is no line of shots") {
  RoomOverview overview;
  overview.rows.resize(2);
  overview.rows[0].checked = "4 images checked: 2 mismatch, 2 unverifiable";
  const std::string page = overview_page(overview, style_of());
  CHECK(holds(page, "4 images checked: 2 mismatch, 2 unverifiable"));
  const std::size_t first = page.find("no checks");
  REQUIRE(first != std::string::npos);  // of the second set-up alone
  CHECK(page.find("no checks", first + 1) == std::string::npos);
}

CalibrationSheet sheet_of_reticle() {
  CalibrationSheet sheet = sheet_called("eyepiece-10x");
  sheet.setup->reticle = true;
  sheet.setup->camera.clear();
  sheet.setup->eyepiece = kHostile;
  sheet.factor = {10.3112, 0.0281, 2.0};
  sheet.reciprocal.reset();
  sheet.pictures.clear(), sheet.residuals.clear(), sheet.shots.clear();
  return sheet;
}

TEST_CASE("the sheet of a reticle is per division and has its readings instead of pictures") {
  CalibrationSheet sheet = sheet_of_reticle();
  sheet.readings = SheetReadings{
      {{1, "0=0", 0.0, 0.05, 0.3, true, ""}, {2, "64=67", 670.0, 10.1, 0.3, false, kHostile}}, 1.5, 0.0043, 4};
  const std::string page = calibration_page(sheet, style_of());
  for (const char* part :
       {"10.311\u202Fµm per division", "Calibration of an eyepiece reticle", "64=67", "left out", "id=\"readings-t\"",
        "Contribution / (µm/div)", "an observer read", "another eyepiece", "readings by eye cannot tell", "Parallax"}) {
    CAPTURE(part);
    CHECK(holds(page, part));
  }
  for (const char* part : {"µm/px", "px/µm", "Pixel pitch", "<script", "SHA-256"}) {
    CAPTURE(part);
    CHECK(!holds(page, part));
  }
}

TEST_CASE("degrees of freedom beyond a million are infinite on the sheet, fewer are counted") {
  CalibrationSheet sheet = sheet_of_reticle();
  sheet.degrees_of_freedom = 78447697.0;
  const std::string page = calibration_page(sheet, style_of());
  CHECK(holds(page, "<dt>Effective degrees of freedom</dt><dd>infinite</dd>"));
  CHECK(!holds(page, "78447697"));
  sheet.degrees_of_freedom = 784476.0;
  CHECK(holds(calibration_page(sheet, style_of()), "<dt>Effective degrees of freedom</dt><dd>784476</dd>"));
}

TEST_CASE("the sheet of an incomplete budget names what is not stated, and nothing else") {
  CalibrationSheet sheet = sheet_of_reticle();
  sheet.budget_complete = false;
  sheet.budget.push_back(line_of("refocusing", 0.0));
  sheet.budget.back().stated = false;
  CHECK(holds(calibration_page(sheet, style_of()), "not complete:</b> not stated, and not in U: refocusing.</p>"));
}

TEST_CASE("the sheet of a reticle from a picture names the picture and speaks of no observer's readings") {
  CalibrationSheet sheet = sheet_of_reticle();
  sheet.eyepiece_picture = EyepiecePicture{kHostile, std::string(64, 'c')};
  const std::string page = calibration_page(sheet, style_of());
  for (const char* part : {"10.311\u202Fµm per division", "Calibration of an eyepiece reticle", "one picture",
                           "SHA-256", "the picture was taken", "both scales covered", "Contribution / (µm/div)"}) {
    CAPTURE(part);
    CHECK(holds(page, part));
  }
  CHECK(holds(page, std::string(64, 'c')));
  CHECK(holds(page, "&lt;script&gt;alert(1)&lt;/"));
  for (const char* part : {"an observer read which", "eadings", "χ²", "it was read", "Parallax", "µm/px", "<script"}) {
    CAPTURE(part);
    CHECK(!holds(page, part));
  }
}

TEST_CASE("the card has each length of each reticle, to what its U deserves, and tells what is overdue or missing") {
  ReticleCard card{"wool room", "", "", "2026-03-01", {}, {"eyepiece-20x"}};
  card.columns.push_back({kHostile, "10×", {10.3112, 0.0281, 2.0}, "2026-02-28", "2026-02-28", true, false, 2, "SM-A"});
  const std::string page = card_page(card, style_of());
  CHECK(!holds(page, "<script"));
  CHECK(holds(page, "size:A5"));
  CHECK(holds(page, "<td class=\"n\">100</td><td class=\"n\">1031.1</td>"));
  CHECK(holds(page, "<td class=\"n\">7</td><td class=\"n\">72.2</td>"));
  CHECK(holds(page, "2026-02-28</span>, overdue"));
  CHECK(holds(page, "Not calibrated: <bdi>eyepiece-20x</bdi>"));
  CHECK(holds(card_page(card, style_of(true)), "<td class=\"n\">1031,1</td>"));
}

TEST_CASE("the page of a check puts what is wrong first and escapes its evidence") {
  CheckPage check;
  check.title = "Check of 2026-03-02";
  check.images = {{"good.png", "a", "", Verdict::within, 0.0001, 0.0006, 0.2, "", {{"scale-agrees", "agrees"}}},
                  {kHostile, "a", "", Verdict::drifted, 0.0041, 0.0006, 6.8, kHostile, {{"scale-shift", kHostile}}}};
  SetupChecks setup;
  setup.setup = "a";
  setup.calibration = 4;
  setup.count = {1, 1, 0, 0};
  setup.problem = "too few shots";
  setup.affected = "measurement 12";
  check.setups = {setup};
  const std::string page = check_page(check, style_of());
  CHECK(!holds(page, "<script"));
  CHECK(holds(page, "1 of 2 images drifted"));
  CHECK(holds(page, "+0.410\u202F%"));
  CHECK(holds(page, "6.80"));
  CHECK(holds(page, "No chart: <bdi>too few shots</bdi>"));
  CHECK(page.find("<b>drifted</b>") < page.find("<b>within</b>"));
  CHECK(check_page(check, style_of()) == page);
  check.images.front().taken_at = "2026-03-01T08:00:00Z";
  CHECK(holds(check_page(check, style_of()), "<br>2026-03-01</span>"));
}

TEST_CASE("the control charts of a check take the decimal comma of the page") {
  CheckPage check;
  SetupChecks setup;
  setup.calibration = 4;
  setup.chart = control_chart(std::vector<double>{0.0011, -0.0007, 0.0004}, {0.0, 0.001});
  check.setups = {setup};
  PageStyle style = style_of();
  CHECK(holds(check_page(check, style), ", 0.30</text>"));
  style.decimal_comma = true;
  const std::string page = check_page(check, style);
  CHECK(holds(page, ", 0,30</text>"));
  CHECK(holds(page, "standard deviation 0,10 %"));
  CHECK(!holds(page, ", 0.30</text>"));
}

MeasurementPage measured() {
  MeasurementPage measurement;
  measurement.title = "Measurement";
  MeasuredSizes sizes{"", "fibre", "width", "length", 2, {}};
  SizeDistribution& found = sizes.distribution;
  found.count = 3;
  found.mean = 21.532, found.expanded = 0.41, found.sd = 4.4, found.shared = 0.05, found.sampling = 0.2;
  found.classes = {{20.0, 22.0, 2.0, 2.0 / 3.0, 0.8}, {22.0, 24.0, 1.0, 1.0 / 3.0, 0.2}};
  measurement.sizes = {sizes};
  MeasuredBody body;
  body.kind = BodyKind::fibre;
  body.width_um = {21.5, 0.1, 0.05};
  measurement.bodies = {{kHostile, "fibre", 1, body}};
  measurement.all_bodies = 90, measurement.all_images = 7;
  measurement.table = "../w.csv";
  return measurement;
}

TEST_CASE("the page of a measurement has the mean with U, classes, the first bodies and the way to all") {
  const std::string page = measurement_page(measured(), style_of());
  CHECK(!holds(page, "<script"));
  CHECK(holds(page, "mean 21.53\u202Fµm"));
  CHECK(holds(page, "U = 0.41\u202Fµm"));
  CHECK(holds(page, "(k = 1.99), of the mean of 3 bodies"));  // 0.41 over the hypotenuse of 0.05 and 0.2
  CHECK(holds(page, "90 bodies in 7 images"));
  CHECK(holds(page, "66.7\u202F%"));
  CHECK(holds(page, "80.0\u202F%"));
  CHECK(holds(page, "The first 1 of 90"));
  CHECK(!holds(page, ">2.0</td>"));
  MeasurementPage weighted = measured();
  weighted.sizes.front().distribution.classes.front().count = 2.4;
  CHECK(holds(measurement_page(weighted, style_of()), "2.4</td>"));
  CHECK(holds(page, "href=\"../w.csv\""));
  MeasurementPage bare = measured();
  bare.table.clear();
  bare.edges_stated = false;
  CHECK(holds(measurement_page(bare, style_of()), "No table was written"));
  CHECK(holds(measurement_page(bare, style_of()), "Not in U"));
}

TEST_CASE("every page says what it is not for") {
  for (const std::string& page :
       {calibration_page(sheet_called("wool-10x"), style_of()), card_page({}, style_of()), check_page({}, style_of()),
        overview_page({}, style_of()), measurement_page(measured(), style_of())})
    CHECK(holds(page, "Not for diagnosis or regulated counting without validation"));
}

}  // namespace
}  // namespace scale
