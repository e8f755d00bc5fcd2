// The optics' distortion and the scale's graduation errors, told apart by shots with the scale moved between them.
//
// Model.   The line of graduation n, at certified (or nominal) position X_n, stands in shot j at
//              s = a_j + g_j step_j X_n + step_j e_n + kappa s (s^2 + v^2) / R^2
//          s along the axis and v across it, from the middle of the picture; e_n, in pixels, belongs to the graduation,
//          kappa to the optics, offset a_j and magnification g_j to the ruling of the shot. Along x and y it is the
//          same kappa. A scale laid both ways shows the same graduations; of scales crossed in one picture each has its
//          own. e_n is its own error and, straight in between, those of the two rows of the certificate it lies
//          between.
// Method.  Least squares over all shots at once, with errors ~ N(0, sigma_e) from the scatter of the single fits, which
//          settles what shots that were hardly moved leave open. kappa by a partial F-test at 1 % (AICc and BIC find
//          distortion too often in few lines).
// Limits.  Numbers of the graduations must be known. A scale turned by 180 degrees or moved by less than a division
//          separates nothing: the middles must differ by two divisions, of crossed scales those of each that is used. A
//          slide that slopes under optics that are not telecentric bends its picture quadratically, which is taken for
//          distortion when it differs from shot to shot.
#pragma once

#include <scale/setup.h>

namespace scale::calibration {

// A ruling to be used, its graduations numbered, with what was found along it.
struct SeparationInput {
  const Shot* shot;
  const Ruling* ruling;
  const CalibratedAxis* axis;
};

// Of the rulings whose graduations are numbered.
Separation separate(std::span<const SeparationInput> numbered, const ReferenceScale& scale, const MeasuringArea& area);

// By how much, relatively, the factor of one ruling must be raised to become the mean over the measuring area.
double area_correction(const SeparationInput& input, double kappa, const MeasuringArea& area);

}  // namespace scale::calibration
