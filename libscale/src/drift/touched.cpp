#include "drift/touched.h"

#include <algorithm>
#include <cmath>

#include "drift/words.h"

namespace scale::drift {
namespace {

// A slide against the stage's stop comes to lie within about a degree again; with the camera turned every slide turns
// (common practice, no source).
constexpr double kTurnedDegrees = 3.0;
constexpr double kSofter = 1.5, kLeastSofterPx = 0.5;
constexpr double kBentMore = 2.0, kLeastBentPx = 0.3;
constexpr double kRatioChanged = 1e-3;

// From the nearer axis of the picture, so that slides along x and along y compare.
double tilt_of(double direction_deg) { return std::remainder(direction_deg, 90.0); }

void add_turn(Judgement& judgement, const Shot& shot, const RegisteredSetup& own) {
  const double tilt = tilt_of(degrees(shot.reading.rulings.front().direction));
  double nearest = 180.0;
  for (const double before : own.directions_deg)
    nearest = std::min(nearest, std::abs(std::remainder(tilt - tilt_of(before), 90.0)));
  if (own.directions_deg.empty() || nearest < kTurnedDegrees) return;
  judgement.evidence.push_back({"rotated", "the scale lies " + fixed(nearest, 1) +
                                               " degrees away from any shot of the calibration: was the camera or the "
                                               "stage turned?"});
}

void add_sharpness(Judgement& judgement, const Shot& shot, const RegisteredSetup& own) {
  const auto softest = std::max_element(own.blurs_px.begin(), own.blurs_px.end());
  const auto sharpest = std::min_element(own.blurs_px.begin(), own.blurs_px.end());
  if (softest == own.blurs_px.end()) return;
  const double blur = shot.reading.rulings.front().edge_blur_px;
  const bool softer = blur > kSofter * *softest && blur - *softest > kLeastSofterPx;
  const bool sharper = *sharpest > kSofter * blur && *sharpest - blur > kLeastSofterPx;
  if (!softer && !sharper) return;
  judgement.evidence.push_back({"sharpness-changed", "edges are blurred by " + fixed(blur, 2) +
                                                         " px, those of the "
                                                         "calibration by " +
                                                         fixed(*sharpest, 2) + " to " + fixed(*softest, 2) + " px"});
}

void add_field(Judgement& judgement, const Shot& shot, const RegisteredSetup& own) {
  const auto most = std::max_element(own.nonlinearities_px.begin(), own.nonlinearities_px.end());
  if (most == own.nonlinearities_px.end()) return;
  const double bent = shot.reading.rulings.front().nonlinearity_max_px;
  if (bent < kBentMore * *most || bent - *most < kLeastBentPx) return;
  judgement.evidence.push_back({"field-changed", "graduations depart from even spacing by " + fixed(bent, 2) +
                                                     " px, at the calibration by " + fixed(*most, 2) +
                                                     " px at most: is a lens or the slide askew?"});
}

void add_ratio(Judgement& judgement, const RegisteredSetup& own) {
  const auto& c = judgement.comparisons;
  if (c.size() != 2 || c[0].direction == c[1].direction || !own.x || !own.y) return;
  const double ratio = (1.0 + c[0].relative_change) / (1.0 + c[1].relative_change);
  const double expected = std::hypot(c[0].limit, c[1].limit);
  if (std::abs(ratio - 1.0) < std::max(kRatioChanged, expected)) return;
  judgement.evidence.push_back({"ratio-changed", std::string("the factor along ") + c[0].direction +
                                                     " has changed by " + percent(std::abs(ratio - 1.0)) +
                                                     " against the other direction: was it resized, or is the slide "
                                                     "tilted?"});
}

}  // namespace

void add_touched(Judgement& judgement, const Shot& shot, const RegisteredSetup& own) {
  add_turn(judgement, shot, own);
  add_ratio(judgement, own);
  add_sharpness(judgement, shot, own);
  add_field(judgement, shot, own);
}

}  // namespace scale::drift
