#include "judge.h"

#include <scale/calibration.h>

#include <algorithm>
#include <cmath>
#include <exception>
#include <iomanip>
#include <sstream>

#include "cramer_rao.h"
#include "micrograph/render.h"
#include "picture.h"

namespace accuracy {
namespace {

double angle_between_deg(double a, double b) { return std::abs(std::remainder(a - b, 180.0)); }

/// What was thrown stands in the reading's failure, so that one such picture does not end the run.
scale::Reading read(const micrograph::Scene& scene, Verdict& verdict) {
  const micrograph::Image image = micrograph::render(scene);
  try {
    return scale::find_rulings(Picture(image).view());
  } catch (const std::exception& error) {
    verdict.threw = true;
    scale::Reading reading;
    reading.failure = scale::Failure{"none", "THREW", error.what()};
    return reading;
  }
}

double bound_of(const micrograph::Scene& scene, const micrograph::Truth& truth) {
  const double rough = rough_relative_pitch_bound(scene, truth);
  return rough <= kSurelyFairBound ? rough : relative_pitch_bound(scene, truth);
}

/// Are the graduations themselves in view? What sticks out of them, every fifth or tenth line, carries a bound of its
/// own, but it does not show how many parts lie between: the bound must hold with all lines as short as the shortest,
/// and the division itself must show.
void tell_fair(micrograph::Scene scene, Verdict& verdict) {
  for (micrograph::LineScale& line_scale : scene.scales) line_scale.levels = micrograph::Levels::all_equal;
  const micrograph::Truth truth = micrograph::truth_of(scene);
  const bool bounded = bound_of(scene, truth) <= kFairBound, shows = division_trace(scene, truth) >= kLeastTrace;
  verdict.fair = bounded && shows;
  verdict.hidden = bounded && !shows;
}

bool is_right(const AxisError& axis) {
  const double error = std::abs(axis.relative);
  const double allowed = std::max(kRightAlways, kRightUncertainties * axis.relative_uncertainty);
  return axis.matched && error <= allowed && error <= kRightMost;
}

bool is_gross(const AxisError& axis) { return !axis.matched || std::abs(axis.relative) > kGross; }

void describe_reading(const scale::Reading& reading, std::ostream& out) {
  if (reading.failure) out << "refused (" << reading.failure->code << ": " << reading.failure->message << ")";
  for (const scale::Ruling& ruling : reading.rulings) {
    out << "[pitch " << std::setprecision(7) << ruling.pitch_px << " px, direction " << std::setprecision(6)
        << scale::degrees(ruling.direction) << " deg, " << ruling.graduations.size() << " lines, u_rel "
        << std::setprecision(2) << ruling.pitch_uncertainty_px / ruling.pitch_px << ", false alarm "
        << ruling.false_alarm << (ruling.low_confidence ? ", low confidence" : "") << "]";
  }
}

void describe_truth(const Verdict& verdict, const micrograph::Truth& truth, std::ostream& out) {
  for (const AxisError& axis : verdict.axes) {
    if (!axis.matched) out << "; no true axis there";
    if (axis.matched) {
      out << "; off by " << std::setprecision(2) << axis.relative << " and " << axis.direction_deg << " deg";
    }
  }
  for (const micrograph::TruthAxis& axis : truth.axes) {
    out << "; true [pitch " << std::setprecision(7) << axis.pitch_px << ", direction " << std::setprecision(6)
        << axis.direction_deg << ", " << axis.lines.size() << " lines, " << axis.missing.size() << " missing, width "
        << std::setprecision(3) << axis.line_width_px << "]";
  }
  out << std::setprecision(3) << "; " << truth.width << " x " << truth.height << ", blur " << truth.blur_px
      << ", amplitude " << 255.0 * truth.amplitude << ", noise " << 255.0 * truth.noise_sd;
  if (truth.jpeg_quality > 0) out << ", JPEG " << truth.jpeg_quality;
  if (verdict.fair) out << ", fair";
  if (verdict.hidden) out << ", division hidden";
  out << ", bound " << std::setprecision(2) << verdict.bound;
}

}  // namespace

bool is_wrong(const Verdict& verdict) { return verdict.calibrated && !verdict.right; }

double worst_error(const Verdict& verdict) {
  double worst = 0.0;
  for (const AxisError& axis : verdict.axes) worst = std::max(worst, std::abs(axis.relative));
  return worst;
}

AxisError axis_error(const scale::Ruling& ruling, const micrograph::Truth& truth) {
  AxisError error;
  const double direction = scale::degrees(ruling.direction);
  for (const micrograph::TruthAxis& axis : truth.axes) {
    const double apart = angle_between_deg(direction, axis.direction_deg);
    if (apart > kSameDirectionDeg || !(axis.pitch_px > 0.0)) continue;
    error.matched = true;
    error.direction_deg = apart;
    error.relative = ruling.pitch_px / axis.pitch_px - 1.0;
    error.relative_uncertainty = ruling.pitch_uncertainty_px / ruling.pitch_px;
    const double claimed = scale::coverage_factor(ruling.degrees_of_freedom) * ruling.pitch_uncertainty_px;
    error.inside = std::abs(ruling.pitch_px - axis.pitch_px) <= claimed;
  }
  return error;
}

Verdict judge(const micrograph::Scene& scene) {
  Verdict verdict;
  verdict.seed = scene.seed;
  const scale::Reading reading = read(scene, verdict);
  const micrograph::Truth truth = micrograph::truth_of(scene);
  verdict.calibrated = !reading.rulings.empty();
  verdict.distorted = truth.distorted;
  verdict.lines = truth.axes.front().lines.size();
  verdict.bound = bound_of(scene, truth);
  if (micrograph::is_fair(truth) && verdict.bound <= kFairBound) tell_fair(scene, verdict);
  for (const scale::Ruling& ruling : reading.rulings) {
    verdict.axes.push_back(axis_error(ruling, truth));
    verdict.low_confidence = verdict.low_confidence || ruling.low_confidence;
  }
  verdict.right = verdict.calibrated && std::all_of(verdict.axes.begin(), verdict.axes.end(), is_right);
  verdict.gross = std::any_of(verdict.axes.begin(), verdict.axes.end(), is_gross);
  std::ostringstream what;
  describe_reading(reading, what);
  describe_truth(verdict, truth, what);
  verdict.what = what.str();
  return verdict;
}

Verdict judge_no_scale(const micrograph::Scene& scene) {
  Verdict verdict;
  verdict.seed = scene.seed;
  const scale::Reading reading = read(scene, verdict);
  verdict.calibrated = !reading.rulings.empty();
  std::ostringstream what;
  describe_reading(reading, what);
  verdict.what = what.str();
  return verdict;
}

}  // namespace accuracy
