#include "calibration/setup_budget.h"

#include <cmath>
#include <map>

#include "calibration/budget.h"
#include "calibration/components.h"

namespace scale::calibration {
namespace {

BudgetLine certificate_line(const Sum& sum) {
  constexpr const char* kName = "reference scale";
  if (!sum.scale.uncertainty) return unstated_line(kName, "its uncertainty is not stated");
  const double relative = sum.shared([](const Piece& piece) { return piece.certificate; });
  const double span = sum.shared([](const Piece& piece) { return piece.axis.span_um; });
  const std::string kind =
      sum.scale.uncertainty->independent_positions ? "independent positions" : "one error of the length in view";
  return relative_line(kName, relative, sum.factor, Distribution::normal, kInfinity,
                       "certificate, " + kind + ", " + in_words(span) + " µm");
}

// Of positions within +- limits, on the slope over the graduations in view, relative.
double stated_graduation_errors(const Piece& piece, double limits_um) {
  double mean = 0.0, squares = 0.0, count = 0.0;
  for (const Graduation& line : piece.input.ruling->graduations) mean += line.index, ++count;
  for (const Graduation& line : piece.input.ruling->graduations) squares += std::pow(line.index - mean / count, 2);
  const double division_um = piece.axis.um_per_pixel * piece.input.ruling->pitch_px;
  return standard_uncertainty_within(limits_um) / (division_um * std::sqrt(squares));
}

// The same graduations lie under every shot, so that their errors do not average out over shots.
BudgetLine graduation_line(const Sum& sum) {
  constexpr const char* kName = "graduation errors";
  if (sum.scale.corrections.size() >= 2) {
    const bool numbered = sum.largest([](const Piece& piece) { return piece.axis.numbering.known ? 0.0 : 1.0; }) == 0.0;
    if (numbered) return limits_line(kName, 0.0, sum.factor, "certified positions were used");
  }
  const auto& stated = sum.scale.graduation_errors;
  const double relative = sum.shared([&](const Piece& piece) {
    return stated ? stated_graduation_errors(piece, stated->value)
                  : piece.axis.graduation_uncertainty / piece.axis.um_per_pixel;
  });
  const double freedom = sum.groups.front().front()->axis.fit_degrees_of_freedom;
  if (stated) return relative_line(kName, relative, sum.factor, Distribution::normal, kInfinity, "as stated");
  return relative_line(kName, relative, sum.factor, Distribution::student_t, freedom,
                       "scatter of the graduations beyond the noise");
}

BudgetLine repeatability_line(const Sum& sum, const Scatter& pooled) {
  constexpr const char* kName = "repeatability";
  std::map<std::size_t, double> weights;  // of a shot, with all its rulings
  for (const Group& group : sum.groups)
    for (const Piece* piece : group) weights[piece->factor.shot] += sum.share() * piece->factor.weight;
  double squares = 0.0;
  for (const auto& [shot, weight] : weights) squares += weight * weight;
  const auto& stated = sum.conditions.stated.repeatability;
  if (stated)
    return relative_line(kName, *stated * std::sqrt(squares), sum.factor, Distribution::normal, kInfinity, "as stated");
  if (pooled.free == 0) return unstated_line(kName, "one shot cannot tell it");
  return relative_line(kName, std::sqrt(pooled.squares / pooled.free * squares), sum.factor, Distribution::student_t,
                       pooled.independent, "scatter of the shots");
}

// By how much the mean over the area changes with kappa, the most of any ruling.
double mean_by_kappa(const Sum& sum) {
  constexpr double kSmall = 1e-4;  // a derivative
  return sum.largest([&](const Piece& piece) { return std::abs(area_correction(piece.input, kSmall, sum.area)); }) /
         kSmall;
}

// What the optics do to lengths within the area, and what the mean over it may be off by, as kappa is known no better.
BudgetLine distortion_line(const char* name, const Sum& sum) {
  const Separation& found = sum.separation;
  // As of one shot: both ends of a length may be displaced against each other.
  const double half = 0.5 * std::max(sum.area.width, sum.area.height) * sum.factor;
  const double whole = std::hypot(found.kappa, found.kappa_uncertainty);
  const double lengths = found.kappa != 0.0 ? found.optics_max_um / half * whole / std::abs(found.kappa) : 0.0;
  // A distortion that was not believed was not corrected either.
  const double left = found.significant ? found.kappa_uncertainty : whole;
  return limits_line(name, std::hypot(lengths, std::sqrt(3.0) * mean_by_kappa(sum) * left), sum.factor,
                     found.significant ? "distortion of the optics over the measuring area"
                                       : "no distortion was found, within its uncertainty");
}

BudgetLine field_line(const Sum& sum) {
  constexpr const char* kName = "field";
  if (sum.conditions.stated.field) return limits_line(kName, *sum.conditions.stated.field, sum.factor, "as stated");
  if (sum.separation.done) return distortion_line(kName, sum);
  const double limits = sum.largest([](const Piece& piece) { return piece.axis.field_limits; });
  return limits_line(kName, limits, sum.factor, "largest departure of the local scale over the span");
}

BudgetLine difference_line(const Sum& sum) {
  constexpr const char* kName = "x-y difference";
  if (sum.conditions.stated.x_y_difference)
    return limits_line(kName, *sum.conditions.stated.x_y_difference, sum.factor, "as stated");
  if (sum.groups.size() < 2)
    return unstated_line(kName, std::string("only ") + sum.groups.front().front()->factor.direction +
                                    " was seen and the difference is not stated");
  const double difference = std::abs(mean_of(sum.groups[0]) - mean_of(sum.groups[1])) / sum.factor;
  return limits_line(kName, 0.5 * difference, sum.factor, "half the difference of the two directions");
}

}  // namespace

double mean_of(const Group& group) {
  double sum = 0.0;
  for (const Piece* piece : group) sum += piece->factor.weight * piece->factor.um_per_pixel;
  return sum;
}

// The noise of each picture is its own, so these add in squares.
BudgetLine fit_line(const Sum& sum) {
  double variance = 0.0, spread = 0.0;
  for (const Group& group : sum.groups)
    for (const Piece* piece : group) {
      const double own = std::pow(piece->axis.fit_uncertainty, 2) - std::pow(piece->axis.graduation_uncertainty, 2);
      const double part = std::pow(sum.share() * piece->factor.weight, 2) * std::max(0.0, own);
      variance += part;
      spread += part * part / piece->axis.fit_degrees_of_freedom;
    }
  return relative_line("fit", std::sqrt(variance) / sum.factor, sum.factor, Distribution::student_t,
                       spread > 0.0 ? variance * variance / spread : kInfinity,
                       "noise of the pictures, and a pitch that changes along the scale");
}

std::vector<BudgetLine> budget_of(const Sum& sum, const Scatter& pooled, bool for_both) {
  const double span = sum.shared([](const Piece& piece) { return piece.axis.span_um; });
  std::vector<BudgetLine> budget = {certificate_line(sum),
                                    temperature_line(sum.scale, sum.conditions, sum.factor),
                                    expansion_line(sum.scale, sum.conditions, sum.factor),
                                    fit_line(sum),
                                    graduation_line(sum),
                                    repeatability_line(sum, pooled),
                                    slope_line(sum.conditions, span, sum.factor),
                                    field_line(sum),
                                    refocusing_line(sum.conditions, sum.factor)};
  if (for_both) budget.push_back(difference_line(sum));
  const double numbering = sum.largest([](const Piece& piece) { return piece.axis.numbering_limits; });
  if (numbering > 0.0)
    budget.push_back(
        limits_line("numbering", numbering, sum.factor, "the certificate's mean scale stands for the part in view"));
  return budget;
}

}  // namespace scale::calibration
