// Pages to read, print and sign: HTML with charts as SVG, made from values alone.
//
// A page needs no script and no network. Whatever comes from a file or a person (names, paths, the lab file's text) is
// escaped, and controls of writing direction in it are made visible. The same values give the same bytes; the time
// of printing comes from the caller. Text must be UTF-8.
// Rounding: uncertainties to two digits, values to the same place (GUM 7.2.6). Units follow a narrow no-break space.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <scale/lab.h>

namespace scale {

// Text that a file or a person gave, for an own page: HTML, also between quotes, as above.
std::string html_text(std::string_view text);

struct PageStyle {
  bool decimal_comma = false;
  std::string printed_at;  // UTC, ISO 8601
  std::string tool;        // name and version of the program
  std::string home;        // address of the overview, relative; empty: none
};

// A picture beside the page or, as a data address, in it.
struct PagePicture {
  std::string source;         // relative address or data address; empty: missing
  int width = 0, height = 0;  // of the picture itself, pixels
  std::string caption;        // beneath it
  std::string description;    // for who cannot see it
  std::string missing;        // why it is not there; the page then keeps a labelled gap
};

// Where the register stands: its hash at printing, and how many records that hash covers.
struct ChainState {
  std::int64_t records = 0;
  std::string head;
};

struct PageRecord {
  std::int64_t number = 0;
  std::string hash, made_at, made_by;
  std::string state;  // "current", "withdrawn by 7", "superseded by 9"
};

// ---- calibration sheet ----

struct ResidualPoint {
  double position_um = 0.0;     // nominal place on the scale
  double deviation_um = 0.0;    // from an even division, along the scale
  double uncertainty_um = 0.0;  // standard
  bool used = true;             // false: left out of the fit
};

struct RulingResiduals {
  std::string name;       // of the shot
  char direction = 'x';   // of the picture
  bool numbered = false;  // positions count from graduation 0 of the scale; else from the first graduation seen
  std::vector<ResidualPoint> points;
  std::vector<Correction> certified;  // less a straight line over the part in view, as the points are
};

// Mean grey value along the axis of a ruling, and its amplitude spectrum.
struct LineProfile {
  std::string name;
  char direction = 'x';
  double pitch_px = 0.0;  // found
  std::vector<double> position_px, grey;
  std::vector<double> frequency, amplitude;  // 1/px; grey values
};

// Factor of a part of the field, relative to that of the whole ruling, at a place of the picture.
struct LocalScale {
  double x_px = 0.0, y_px = 0.0;
  char direction = 'x';
  double deviation = 0.0, uncertainty = 0.0;  // relative; standard
};

struct HistoryPoint {
  std::int64_t record = 0;
  std::string made_at;
  double value = 0.0, expanded_uncertainty = 0.0;  // micrometres per pixel
  std::string state;                               // "current", "superseded", "withdrawn"
};

struct SheetShot {
  std::string image, sha256;  // of its file; empty: not recorded
  char direction = 'x';
  double um_per_pixel = 0.0, fit_uncertainty = 0.0, weight = 0.0;
  bool used = true;
  std::string reason;     // why not
  std::string numbering;  // "40 to 82"; empty: not known
};

struct CalibrationSheet {
  std::string title;  // of the set-up, or of the image
  std::string room, laboratory, address;
  std::optional<LabSetup> setup;  // absent without a lab file
  std::optional<LabScale> scale;
  double division_um = 0.0;
  CalibrationFactor um_per_pixel, pixels_per_um;
  double degrees_of_freedom = 0.0;  // effective; infinite when not finite
  bool budget_complete = false;
  std::optional<CalibrationFactor> x, y;
  std::optional<double> nominal;       // micrometres per pixel
  std::optional<HistoryPoint> before;  // the calibration that was current before this one
  std::vector<BudgetLine> budget;
  std::vector<SheetShot> shots;
  int width = 0, height = 0;  // of the shots, pixels
  std::string separation;     // what was found about optics and scale; empty: nothing
  std::vector<PagePicture> pictures;
  std::vector<RulingResiduals> residuals;
  std::vector<LineProfile> profiles;
  std::vector<LocalScale> field;
  std::vector<HistoryPoint> history;
  std::vector<Warning> flags, warnings;
  std::string accepted;              // why flags were let pass
  std::string calibrated;            // day, "2026-02-28"
  std::string due;                   // day; empty: not stated
  std::optional<PageRecord> record;  // absent: not in the register
  std::optional<ChainState> chain;
};

std::string calibration_page(const CalibrationSheet& sheet, const PageStyle& style);

// ---- overview of a room ----

enum class SetupState { in_order, due_soon, overdue, not_calibrated, drifted };

struct SparkPoint {
  std::string made_at;
  double value = 0.0;  // relative change against the calibration
  bool within = true;
};

struct OverviewRow {
  std::string setup, optics;
  std::string page;  // relative address of its sheet; empty: none
  std::optional<CalibrationFactor> factor;
  std::string unit = "µm/px";
  std::string calibrated, due;  // days; empty: not known
  SetupState state = SetupState::not_calibrated;
  std::string remark;  // what the state rests on, in words
  std::vector<SparkPoint> checks;
  std::string checks_page{};  // relative address of the page of its checks; empty: none
};

struct RoomOverview {
  std::string room, laboratory, address;
  std::vector<OverviewRow> rows;
  std::vector<std::pair<std::string, std::string>> further;  // other pages: title, relative address
  std::vector<std::pair<std::string, std::string>> refused;  // images of a run: path, reason
  std::optional<ChainState> chain;
};

std::string overview_page(const RoomOverview& overview, const PageStyle& style);

}  // namespace scale
