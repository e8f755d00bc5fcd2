// One rendered scene, read by the engine and held against its truth.
#pragma once

#include <scale/ruling.h>

#include <cstdint>
#include <string>
#include <vector>

#include "micrograph/scene.h"
#include "micrograph/truth.h"

namespace accuracy {

// Right: off by at most this or three claimed standard uncertainties, whichever is larger, ...
inline constexpr double kRightAlways = 1e-4;
inline constexpr double kRightUncertainties = 3.0;
// ... and never by more than this.
inline constexpr double kRightMost = 5e-3;
inline constexpr double kGross = 1e-2;            // never more, in any scene
inline constexpr double kSameDirectionDeg = 2.0;  // a ruling and its truth; nearer than any two axes of one picture
inline constexpr double kFairBound = 3e-4;        // Cramer-Rao bound of the relative pitch
// Below this the closed form, good to a factor of two, says "fair" without the long computation.
inline constexpr double kSurelyFairBound = 3e-5;

inline constexpr double kLeastTrace = 10.0;  // standard deviations of a division that shows

/// One axis found, against the true one nearest in direction.
struct AxisError {
  bool matched = false;   ///< false: no true axis lies in this direction
  double relative = 0.0;  ///< pitch / truth - 1
  double relative_uncertainty = 0.0;
  double direction_deg = 0.0;  ///< absolute error
  bool inside = false;         ///< |error| <= t(95.45 %, degrees of freedom) * uncertainty
};

struct Verdict {
  std::uint64_t seed = 0;
  bool calibrated = false;
  bool right = false;
  bool gross = false;
  bool threw = false;  ///< the engine threw, which no picture may make it do
  bool low_confidence = false;
  bool fair = false;
  bool hidden = false;  ///< would be fair, but blur leaves no trace of the division
  bool distorted = false;
  std::size_t lines = 0;  ///< graduations in view on the first axis
  double bound = 0.0;     ///< relative; of the closed form where that already says "fair"
  std::vector<AxisError> axes;
  std::string what;  ///< what came out and what is true, for people
};

bool is_wrong(const Verdict& verdict);

/// The largest |relative error| of the axes found.
double worst_error(const Verdict& verdict);

AxisError axis_error(const scale::Ruling& ruling, const micrograph::Truth& truth);

/// A scene with a scale.
Verdict judge(const micrograph::Scene& scene);

/// A scene without: `calibrated` is a false finding.
Verdict judge_no_scale(const micrograph::Scene& scene);

}  // namespace accuracy
