// What one reticle division is worth in micrometres, from a picture through the eyepiece that shows both scales.
//
// Model. The factor is D times the ratio of the two pitches, D the micrometer's division by its certificate. Both
// pitches are measured across their own lines, so that an angle between the scales does not matter. The ratio is taken
// at places that both scales cover and averaged; its largest departure there are limits (+-) of a rectangular
// distribution ("field"). Where parallel scales lie beside each other, a tilted camera shows one of them larger: both
// pitches are brought to one place by the growth that the fanning of their lines shows ("camera tilt").
//
// Which of the two is the reticle is decided by counting: it has its N divisions, and the other scale is longer, or
// seen from end to end with another number, or the micrometer's own number (ReferenceScale::divisions) tells. Where
// that cannot be seen nothing is guessed.
#pragma once

#include <optional>
#include <tl/expected.hpp>
#include <vector>

#include <scale/calibration.h>
#include <scale/setup.h>
#include <scale/two_rulings.h>

namespace scale {

// What a person says of the reticle, by its pitch or its place in the picture.
enum class ReticleIs { unknown, finer, coarser, upper, lower };

struct ReticleInView {
  int divisions = 100;  // of the whole reticle
  ReticleIs is = ReticleIs::unknown;
};

// A line of the reticle that lies on a graduation of the micrometer, both counted from the first lines at the left (or
// upper) end.
struct Coincidence {
  int reticle = 0, micrometer = 0;
  double offset = 0.0;  // of the reticle's line beyond the graduation, micrometer divisions
};

struct ReticlePicture {
  std::size_t reticle = 1, micrometer = 0;  // places in Reading::rulings
  CalibrationFactor um_per_division;
  double fit_uncertainty = 0.0;  // standard, of both fits, micrometres per division
  double fit_degrees_of_freedom = 0.0;
  double degrees_of_freedom = 0.0;  // effective, of the whole budget
  bool budget_complete = false;
  std::vector<BudgetLine> budget;         // contributions in micrometres per division
  CalibratedAxis reticle_axis;            // the reticle's own lines, by the division found
  Calibration micrometer_calibration;     // micrometres per pixel, as of a picture of the micrometer alone
  std::vector<Coincidence> coincidences;  // where both zero lines are seen and lie together; else none
};

// `two` as find_two_rulings gives it. `conditions` absent: the budget holds the picture and the reference scale alone.
// Failure code which-reticle: it cannot be told which one it is. Throws std::invalid_argument unless there are two
// rulings.
tl::expected<ReticlePicture, Failure> calibrate_reticle(const TwoRulings& two, const ReferenceScale& scale,
                                                        const ReticleInView& reticle, const ShotHints& hints = {},
                                                        const std::optional<SetupConditions>& conditions = {});

}  // namespace scale
