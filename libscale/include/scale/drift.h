// Does an image still carry the scale its set-up is registered with?
//
// With a scale in the picture (a check shot) the factor found is held against the registered one, direction by
// direction. Model: d = found / registered - 1. Every component of the two budgets is an independent error of each,
// save what both share:
//   - the certificate's error and the expansion of the scale, when the same scale was used: one error, of which only
//     the difference of the two sizes is left (none over the same span);
//   - the optics' field, when the scale lies in the same part of it, or when its distortion is corrected for;
//   - the x-y difference, as x is held against x and y against y.
// u(d) has Welch-Satterthwaite degrees of freedom (JCGM 100, G.4.1). The change is a drift when |d| exceeds Student's t
// for 99.73 % times u(d), which is 3 u(d) for a well-known u, or when it is beyond the tolerance by more than U
// (ISO 14253-1: non-conformity is proven; clause from memory). Within U of the tolerance neither is proven: the
// image is unverifiable, never within. En = d / sqrt(U1^2 + U2^2) beyond 1 is a warning.
//
// Without a scale only what the file says is left, and it never proves a factor that it does not state.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <scale/scale_bar.h>
#include <scale/setup.h>

namespace scale {

enum class Verdict { within, drifted, mismatch, unverifiable };
const char* name_of(Verdict verdict);

// A reason in words with a code of the closed list of docs/formats.md.
struct Evidence {
  std::string code;
  std::string message;
};

// A standard uncertainty as a share of the factor.
struct UncertaintyPart {
  std::string component;  // as the line of the budget is named
  double relative = 0.0;
  double degrees_of_freedom = 0.0;
};

// A factor along one direction of the picture.
struct FactorAlong {
  double um_per_pixel = 0.0;
  std::vector<UncertaintyPart> parts;
};

// A pixel size that a file states.
struct StatedPixel {
  std::string source;  // "TIFF", "PNG pHYs", "JFIF", "Exif", "OME"
  double x_um = 0.0, y_um = 0.0;
};

// A scale bar that was looked for where the set-up says that one stands.
struct StatedBar {
  double length_um = 0.0;  // that it stands for
  ScaleBarReading found;
  double um_per_pixel() const { return length_um / found.bar->length_px; }
};

// What a file says of itself; what it does not say is absent or empty.
struct FileStatement {
  int width = 0, height = 0;
  std::vector<StatedPixel> pixels;
  std::vector<std::string> ignored;  // resolutions that are printing defaults, in words
  std::string camera;
  std::optional<double> magnification;  // nominal, of the objective
  std::optional<int> binning;
  std::optional<std::array<int, 2>> original_size;  // what the camera wrote, when the file tells it apart
  std::optional<std::array<int, 2>> thumbnail_size;
  int bits = 0, channels = 0;
  std::vector<double> rescaling;  // frequencies of rescaling traces, cycles per pixel; see find_rescaling
  bool rescaling_looked_for = false;
  std::optional<StatedBar> bar;  // absent: the set-up has none, or the pixels were not looked at
};

// What the register and the lab file say of a set-up.
struct RegisteredSetup {
  std::string name;
  std::string scale;                        // name of the reference scale
  std::optional<FactorAlong> x, y, both;    // `both` is the set-up's factor
  std::optional<double> repeatability;      // of one shot, standard, relative
  double repeatability_freedom = 0.0;       // its degrees of freedom
  std::optional<double> tolerance;          // relative
  std::optional<double> kappa;              // distortion that was corrected for
  std::optional<MeasuringArea> area;        // the factor is the mean over it
  std::vector<std::array<double, 3>> seen;  // of the shots: 0 along x or 1 along y, first and last graduation, pixels
  std::vector<double> directions_deg, blurs_px, nonlinearities_px;  // of the shots
  std::optional<std::array<int, 2>> size;                           // of its images
  std::optional<double> magnification;
  std::optional<int> binning;
  double optics_tolerance = 0.05;    // how far a nominal pixel size may be off
  std::vector<FileStatement> files;  // of the shots
};

struct ScaleComparison {
  char direction = 'x';
  double found = 0.0, registered = 0.0;  // micrometres per pixel
  double relative_change = 0.0;
  double standard_uncertainty = 0.0, degrees_of_freedom = 0.0;  // of the change
  double registered_uncertainty = 0.0;  // the register's part of it, the same error under every shot
  double coverage_factor = 2.0, expanded_uncertainty = 0.0;  // of the change
  double limit = 0.0;                                        // a change beyond it is a drift
  double en = 0.0;
};

// The set-up that an image fits better than its own, or its own at another pixel size.
struct Likeness {
  std::string setup;
  double times = 1.0;  // pixel size over that set-up's registered one: 1, 2, 3, 4, 1/2, 1/3, 1/4
};

// "wool-20x", or "wool-10x at 1/2 of its size in pixels".
std::string in_words(const Likeness& likeness);

struct Judgement {
  Verdict verdict = Verdict::unverifiable;
  std::vector<ScaleComparison> comparisons;  // the one that decides first; empty without a scale
  std::optional<Likeness> looks_like;
  std::vector<Evidence> evidence;
};

// The parts of both are standard and relative. `shared` names the components that are one error of both.
ScaleComparison compare_factors(const FactorAlong& found, const FactorAlong& registered,
                                std::span<const std::string> shared);

// A check shot against its set-up. `same_scale`: it shows the scale that the register's factor rests on. The reading
// must hold a ruling and the register a factor, else std::invalid_argument.
Judgement judge_shot(const Shot& shot, const ReferenceScale& scale, const SetupConditions& conditions,
                     const RegisteredSetup& own, bool same_scale, std::span<const RegisteredSetup> all);

// What a file says, against its set-up. Only a stated pixel size or a drawn scale bar that agrees, or a stated
// magnification with the size of the picture, gives `within`; where a bar should stand and none is found, nothing does.
Judgement judge_file(const FileStatement& file, const RegisteredSetup& own, std::span<const RegisteredSetup> all);

// Frequencies (cycles per pixel, 0 to 1/2) at which resampling has left its periodic trace along rows and columns
// alike: interpolated samples vary more the nearer they lie to the old ones, with the period of the ratio of the two
// rasters. Stored without loss, ratios from about 0.85 up are mostly found, of plain interpolation from 0.7; stored
// as JPEG those from about 0.95. Below, the mean over old samples blurs it away. Not found where the trace falls on 0,
// 1/2 (what demosaicing and any sharpening look like) or another multiple of 1/8 (JPEG blocks), as of halves, doubles,
// 4/5 and 4/3; where the two directions were scaled differently; in pictures under 256 pixels; and where the specimen
// itself repeats along the raster (tiles, threads, grids), as its edges would look the same. The ratio itself stays
// open: 3/4, 3/2 and 3 leave the same trace. A frequency that the set-up's own
// calibration pictures show is no evidence: of these `possible` lists whatever either direction shows, though the
// ruling itself may have left it.
enum class Trace { proven, possible };
std::vector<double> find_rescaling(const ImageView& image, Trace trace = Trace::proven);

// The registered factor that `um_per_pixel` fits best, within the share `fits`; the own set-up at another pixel size
// before another one when `size_ratio` (registered width over this width) tells so.
std::optional<Likeness> likeness_of(double um_per_pixel, const RegisteredSetup& own,
                                    std::span<const RegisteredSetup> all, std::optional<double> size_ratio,
                                    double fits = 0.01);

}  // namespace scale
