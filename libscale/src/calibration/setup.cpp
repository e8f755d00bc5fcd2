#include <scale/setup.h>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "calibration/budget.h"
#include "calibration/certified.h"
#include "calibration/components.h"
#include "calibration/separation.h"
#include "calibration/setup_budget.h"
#include "numeric/robust.h"

namespace scale {
namespace {

using calibration::Group;
using calibration::mean_of;
using calibration::percent;
using calibration::Piece;
using calibration::Scatter;
using calibration::SeparationInput;
using calibration::Sum;

// Relative scatter of a slide laid down anew and refocused, the least that is believed when outliers are named (method
// of the trade: 1e-4 to 5e-4, from memory).
constexpr double kLeastScatter = 2e-4;
constexpr double kOutlierScatters = 5.0;

char direction_of(const Ruling& ruling) { return std::abs(degrees(ruling.direction)) <= 45.0 ? 'x' : 'y'; }

std::vector<Piece> pieces_of(std::span<const Shot> shots, const ReferenceScale& scale) {
  std::vector<Piece> pieces;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot& shot = shots[i];
    // Also checks the scale and the reading.
    const Calibration single = calibrate(shot.reading, scale, shot.hints);
    for (std::size_t r = 0; r < shot.reading.rulings.size(); ++r) {
      Piece piece;
      piece.input = {&shot, &shot.reading.rulings[r], nullptr};
      piece.axis = single.axes[r];
      piece.factor.shot = i;
      piece.factor.direction = direction_of(shot.reading.rulings[r]);
      piece.factor.um_per_pixel = piece.axis.um_per_pixel;
      piece.factor.fit_uncertainty = piece.axis.fit_uncertainty;
      piece.factor.numbering = piece.axis.numbering;
      if (scale.uncertainty)
        piece.certificate = calibration::certificate_uncertainty(*piece.input.ruling, piece.axis, scale);
      pieces.push_back(std::move(piece));
    }
  }
  for (Piece& piece : pieces) piece.input.axis = &piece.axis;
  return pieces;
}

std::vector<Piece*> of_direction(std::vector<Piece>& pieces, char direction) {
  std::vector<Piece*> group;
  for (Piece& piece : pieces)
    if (piece.factor.direction == direction && piece.factor.used) group.push_back(&piece);
  return group;
}

// Of three or more shots one that lies far from their median, by the others' own scatter, is named and left out.
void leave_out_outliers(std::vector<Piece>& pieces, char direction) {
  const std::vector<Piece*> group = of_direction(pieces, direction);
  if (group.size() < 3) return;
  std::vector<double> factors;
  for (const Piece* piece : group) factors.push_back(piece->factor.um_per_pixel);
  const double middle = numeric::median(std::span<const double>(factors));
  const double scatter = std::max(kLeastScatter * middle, numeric::mad_sigma(std::span<const double>(factors)));
  for (Piece* piece : group) {
    const double off = piece->factor.um_per_pixel - middle;
    if (std::abs(off) <= kOutlierScatters * std::hypot(scatter, piece->factor.fit_uncertainty)) continue;
    piece->factor.used = false;
    piece->factor.reason =
        "outlier: " + percent(std::abs(off) / middle) + (off > 0 ? " above" : " below") + " the median of the shots";
  }
}

// How many shots are in both directions.
int crossed_among(const std::vector<Piece*>& x, const std::vector<Piece*>& y) {
  return static_cast<int>(std::count_if(x.begin(), x.end(), [&](const Piece* one) {
    return std::any_of(y.begin(), y.end(), [&](const Piece* other) { return other->factor.shot == one->factor.shot; });
  }));
}

Scatter scatter_of(const std::vector<Piece*>& group) {
  double mean = 0.0;
  for (const Piece* piece : group) mean += piece->factor.um_per_pixel / static_cast<double>(group.size());
  Scatter scatter;
  for (const Piece* piece : group) scatter.squares += std::pow(piece->factor.um_per_pixel / mean - 1.0, 2);
  scatter.free = static_cast<int>(group.size()) - 1;
  return scatter;
}

// 1 / (u_fit^2 + what the shots scatter beyond their fits): the moment estimate of DerSimonian and Laird, from memory.
void weigh(const std::vector<Piece*>& group) {
  if (group.empty()) return;
  const Scatter scatter = scatter_of(group);
  double fits = 0.0;
  for (const Piece* piece : group)
    fits += std::pow(piece->factor.fit_uncertainty / piece->factor.um_per_pixel, 2) / static_cast<double>(group.size());
  const double between = scatter.free > 0 ? std::max(0.0, scatter.squares / scatter.free - fits) : 0.0;
  double total = 0.0;
  for (Piece* piece : group) {
    const double fit = piece->factor.fit_uncertainty / piece->factor.um_per_pixel;
    piece->factor.weight = fit * fit + between > 0.0 ? 1.0 / (fit * fit + between) : 1.0;
    total += piece->factor.weight;
  }
  for (Piece* piece : group) piece->factor.weight /= total;
}

double factor_of(const std::vector<Group>& groups) {
  double sum = 0.0;
  for (const Group& group : groups) sum += mean_of(group);
  return sum / static_cast<double>(groups.size());
}

CalibrationFactor along(const Sum& whole, const Group& group, const Scatter& pooled) {
  Sum one{whole.scale, whole.conditions, whole.separation, whole.area, {group}, mean_of(group)};
  return calibration::factor_of(one.factor, calibration::sum_of(calibration::budget_of(one, pooled, false)));
}

void add_warnings(SetupCalibration& result, std::span<const Shot> shots, const ReferenceScale& scale,
                  const std::vector<Group>& groups) {
  for (const ShotFactor& factor : result.shots)
    if (!factor.used) result.warnings.push_back({"shot-left-out", shots[factor.shot].name + ": " + factor.reason});
  if (scale.corrections.size() >= 2) {
    const auto unnumbered = std::find_if(result.shots.begin(), result.shots.end(), [](const ShotFactor& factor) {
      return factor.used && !factor.numbering.known;
    });
    if (unnumbered != result.shots.end())
      result.warnings.push_back({"mean-scale-used", shots[unnumbered->shot].name +
                                                        ": the certificate's mean scale was used, as " +
                                                        unnumbered->numbering.reason});
  }
  if (groups.size() > 1) {
    const double difference = std::abs(mean_of(groups[0]) - mean_of(groups[1])) / result.um_per_pixel.value;
    constexpr double kAxesAgree = 2e-3;  // as for one picture
    if (difference > kAxesAgree)
      result.warnings.push_back({"axes-differ", "x and y differ by " + percent(difference) +
                                                    "; was a picture resized on export, or is the slide tilted?"});
  }
  std::string missing;
  for (const BudgetLine& line : result.budget)
    if (!line.stated) missing += (missing.empty() ? "" : "; ") + line.input.name + ": " + line.basis;
  if (!missing.empty()) result.warnings.push_back({"budget-incomplete", "not in the uncertainty: " + missing});
}

MeasuringArea area_of(const Shot& shot, const SetupConditions& conditions) {
  return conditions.measuring_area.value_or(
      MeasuringArea{0.0, 0.0, static_cast<double>(shot.width - 1), static_cast<double>(shot.height - 1)});
}

// Scatter, weights, temperature and slope; the factors are final after this.
Scatter settle(std::vector<Piece>& pieces, const ReferenceScale& scale, const SetupConditions& conditions,
               const Separation& separation, const MeasuringArea& area) {
  for (Piece& piece : pieces) {
    const double to_area =
        separation.significant ? calibration::area_correction(piece.input, separation.kappa, area) : 0.0;
    piece.factor.um_per_pixel *= (1.0 + to_area) * calibration::room_factor(scale, conditions, piece.axis.span_um);
  }
  Scatter pooled;
  for (const char direction : {'x', 'y'}) {
    leave_out_outliers(pieces, direction);
    const auto group = of_direction(pieces, direction);
    weigh(group);
    if (group.size() < 2) continue;
    const Scatter own = scatter_of(group);
    pooled.squares += own.squares;
    pooled.free += own.free;
  }
  const int crossed = crossed_among(of_direction(pieces, 'x'), of_direction(pieces, 'y'));
  pooled.independent = pooled.free - std::max(0, crossed - 1);
  return pooled;
}

std::vector<SeparationInput> numbered_of(const std::vector<Piece>& pieces) {
  std::vector<SeparationInput> inputs;
  for (const Piece& piece : pieces)
    if (piece.axis.numbering.known) inputs.push_back(piece.input);
  return inputs;
}

// What to put right when too few shots have numbered graduations: why the first without them has none.
std::string why_unnumbered(const std::vector<Piece>& pieces) {
  const auto unnumbered =
      std::find_if(pieces.begin(), pieces.end(), [](const Piece& piece) { return !piece.axis.numbering.known; });
  const bool told = unnumbered != pieces.end() && !unnumbered->axis.numbering.reason.empty();
  return told ? "; those of " + unnumbered->input.shot->name + " are not: " + unnumbered->axis.numbering.reason : "";
}

}  // namespace

SetupCalibration calibrate_setup(std::span<const Shot> shots, const ReferenceScale& scale,
                                 const SetupConditions& conditions) {
  if (shots.empty()) throw std::invalid_argument("calibrate_setup: there is no shot");
  std::vector<Piece> pieces = pieces_of(shots, scale);
  const MeasuringArea area = area_of(shots.front(), conditions);
  SetupCalibration result;
  const std::vector<SeparationInput> inputs = numbered_of(pieces);
  result.separation = calibration::separate(inputs, scale, area);
  if (inputs.size() < 2) result.separation.reason += why_unnumbered(pieces);
  const Scatter pooled = settle(pieces, scale, conditions, result.separation, area);

  std::vector<Group> groups;
  for (const char direction : {'x', 'y'})
    if (const auto group = of_direction(pieces, direction); !group.empty())
      groups.emplace_back(group.begin(), group.end());
  const Sum sum{scale, conditions, result.separation, area, groups, factor_of(groups)};
  result.budget = calibration::budget_of(sum, pooled, true);
  const CombinedUncertainty combined = calibration::sum_of(result.budget);
  result.um_per_pixel = calibration::factor_of(sum.factor, combined);
  result.pixels_per_um = calibration::reciprocal_of(sum.factor, combined);
  result.degrees_of_freedom = combined.degrees_of_freedom;
  for (const Group& group : groups)
    (group.front()->factor.direction == 'x' ? result.x : result.y) = along(sum, group, pooled);
  const BudgetLine fit = calibration::fit_line(sum);
  result.fit_uncertainty = fit.contribution;
  result.fit_degrees_of_freedom = fit.input.degrees_of_freedom;
  result.budget_complete = calibration::is_complete(result.budget);
  for (const Piece& piece : pieces) result.shots.push_back(piece.factor);
  add_warnings(result, shots, scale, groups);
  return result;
}

MonteCarlo propagate(const SetupCalibration& setup, double certificate_temperature, std::size_t trials,
                     std::uint64_t seed) {
  std::vector<UncertainInput> inputs;
  constexpr std::size_t kNone = static_cast<std::size_t>(-1);
  std::size_t temperature = kNone, expansion = kNone, slope = kNone;
  for (const BudgetLine& line : setup.budget) {
    if (!line.stated) continue;
    if (line.input.name == calibration::kTemperatureLine) temperature = inputs.size();
    if (line.input.name == calibration::kExpansionLine) expansion = inputs.size();
    if (line.input.name == calibration::kSlopeLine) slope = inputs.size();
    inputs.push_back(line.input);
  }
  const double factor = setup.um_per_pixel.value;
  const auto grown = [&](double alpha, double degrees_celsius) {
    return 1.0 + alpha * (degrees_celsius - certificate_temperature);
  };
  const double taken = temperature == kNone ? 1.0 : grown(inputs[expansion].value, inputs[temperature].value);
  // The factor holds the mean cosine already: the limits are sqrt(3) standard uncertainties.
  const double level =
      slope == kNone ? 1.0 : calibration::mean_cosine(std::sqrt(3.0) * inputs[slope].standard_uncertainty);
  return propagate(
      inputs,
      [&](std::span<const double> x) {
        double shares = 0.0;
        for (std::size_t i = 0; i < x.size(); ++i)
          if (i != temperature && i != expansion && i != slope) shares += x[i];
        const double size = temperature == kNone ? 1.0 : grown(x[expansion], x[temperature]) / taken;
        return factor * (1.0 + shares) * size * (slope == kNone ? 1.0 : std::cos(x[slope]) / level);
      },
      trials, seed);
}

double temperature_uncertainty(const ReferenceScale& scale, const SetupConditions& conditions) {
  return std::hypot(calibration::temperature_line(scale, conditions, 1.0).contribution,
                    calibration::expansion_line(scale, conditions, 1.0).contribution);
}

MicrometresPerPixel nominal_factor(Micrometres pixel_pitch, int binning, double objective, double relay, double zoom) {
  return {pixel_pitch.value * binning / (objective * relay * zoom)};
}

}  // namespace scale
