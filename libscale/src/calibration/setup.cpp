#include <scale/setup.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "calibration/budget.h"
#include "calibration/certified.h"
#include "calibration/components.h"
#include "calibration/separation.h"
#include "numeric/robust.h"

namespace scale {
namespace {

using calibration::kInfinity;
using calibration::limits_line;
using calibration::percent;
using calibration::relative_line;
using calibration::SeparationInput;
using calibration::unstated_line;

// Relative scatter of a slide laid down anew and refocused, the least that is believed when outliers are named (method
// of the trade: 1e-4 to 5e-4, from memory).
constexpr double kLeastScatter = 2e-4;
constexpr double kOutlierScatters = 5.0;

// One ruling of one shot with all that is known along it; sums run over these.
struct Piece {
  SeparationInput input;
  CalibratedAxis axis;
  ShotFactor factor;
  double certificate = 0.0;  // standard, relative
};

// The pieces of one direction. `weights` belong to the used ones.
using Group = std::vector<const Piece*>;

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

double mean_of(const Group& group) {
  double sum = 0.0;
  for (const Piece* piece : group) sum += piece->factor.weight * piece->factor.um_per_pixel;
  return sum;
}

// Scatter of the shots about their plain mean, relative, and how many free values it has.
struct Scatter {
  double squares = 0.0;
  int free = 0;
};

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

// Everything the lines of the budget are made from. `groups` are the directions that count.
struct Sum {
  const ReferenceScale& scale;
  const SetupConditions& conditions;
  const Separation& separation;
  const MeasuringArea& area;
  std::vector<Group> groups;
  double factor = 0.0;

  double share() const { return 1.0 / static_cast<double>(groups.size()); }
  // Weighted mean over all pieces of what they share, so that nothing cancels.
  template <class Value>
  double shared(const Value& value) const {
    double sum = 0.0;
    for (const Group& group : groups)
      for (const Piece* piece : group) sum += share() * piece->factor.weight * value(*piece);
    return sum;
  }
  template <class Value>
  double largest(const Value& value) const {
    double most = 0.0;
    for (const Group& group : groups)
      for (const Piece* piece : group) most = std::max(most, value(*piece));
    return most;
  }
};

BudgetLine certificate_line(const Sum& sum) {
  constexpr const char* kName = "reference scale";
  if (!sum.scale.uncertainty) return unstated_line(kName, "its uncertainty is not stated");
  const double relative = sum.shared([](const Piece& piece) { return piece.certificate; });
  const double span = sum.shared([](const Piece& piece) { return piece.axis.span_um; });
  const std::string kind =
      sum.scale.uncertainty->independent_positions ? "independent positions" : "one error of the length in view";
  return relative_line(kName, relative, sum.factor, Distribution::normal, kInfinity,
                       "certificate, " + kind + ", " + calibration::in_words(span) + " um");
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
                       spread > 0.0 ? variance * variance / spread : kInfinity, "noise of the pictures");
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
  double weights = 0.0;
  for (const Group& group : sum.groups)
    for (const Piece* piece : group) weights += std::pow(sum.share() * piece->factor.weight, 2);
  const auto& stated = sum.conditions.stated.repeatability;
  if (stated)
    return relative_line(kName, *stated * std::sqrt(weights), sum.factor, Distribution::normal, kInfinity, "as stated");
  if (pooled.free == 0) return unstated_line(kName, "one shot cannot tell it");
  return relative_line(kName, std::sqrt(pooled.squares / pooled.free * weights), sum.factor, Distribution::student_t,
                       pooled.free, "scatter of the shots");
}

BudgetLine field_line(const Sum& sum) {
  constexpr const char* kName = "field";
  if (sum.conditions.stated.field) return limits_line(kName, *sum.conditions.stated.field, sum.factor, "as stated");
  if (sum.separation.done) {
    const double half = 0.5 * std::max(sum.area.width, sum.area.height) * sum.factor;
    // As of one shot: both ends of a length may be displaced against each other.
    const double seen = sum.separation.optics_max_um / half;
    const double doubt =
        sum.separation.kappa != 0.0 ? seen * sum.separation.kappa_uncertainty / std::abs(sum.separation.kappa) : 0.0;
    return limits_line(kName, sum.separation.significant ? std::hypot(seen, doubt) : doubt, sum.factor,
                       sum.separation.significant ? "distortion of the optics over the measuring area"
                                                  : "no distortion was found, within its uncertainty");
  }
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

std::vector<BudgetLine> budget_of(const Sum& sum, const Scatter& pooled, bool for_both) {
  const double span = sum.shared([](const Piece& piece) { return piece.axis.span_um; });
  std::vector<BudgetLine> budget = {certificate_line(sum),
                                    calibration::temperature_line(sum.scale, sum.conditions, sum.factor),
                                    calibration::expansion_line(sum.scale, sum.conditions, sum.factor),
                                    fit_line(sum),
                                    graduation_line(sum),
                                    repeatability_line(sum, pooled),
                                    calibration::slope_line(sum.conditions, span, sum.factor),
                                    field_line(sum),
                                    calibration::refocusing_line(sum.conditions, sum.factor)};
  if (for_both) budget.push_back(difference_line(sum));
  const double numbering = sum.largest([](const Piece& piece) { return piece.axis.numbering_limits; });
  if (numbering > 0.0)
    budget.push_back(
        limits_line("numbering", numbering, sum.factor, "the certificate's mean scale stands for the part in view"));
  return budget;
}

double factor_of(const std::vector<Group>& groups) {
  double sum = 0.0;
  for (const Group& group : groups) sum += mean_of(group);
  return sum / static_cast<double>(groups.size());
}

CalibrationFactor along(const Sum& whole, const Group& group, const Scatter& pooled) {
  Sum one{whole.scale, whole.conditions, whole.separation, whole.area, {group}, mean_of(group)};
  return calibration::factor_of(one.factor, calibration::sum_of(budget_of(one, pooled, false)));
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
      result.warnings.push_back(
          {"mean-scale-used", shots[unnumbered->shot].name + ": the certificate's mean scale was used, as " +
                                  unnumbered->numbering.reason + "; state what lies in the middle of the picture"});
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

// Scatter, weights and the temperature; the factors are final after this.
Scatter settle(std::vector<Piece>& pieces, const ReferenceScale& scale, const SetupConditions& conditions,
               const Separation& separation, const MeasuringArea& area) {
  for (Piece& piece : pieces) {
    const double to_area =
        separation.significant ? calibration::area_correction(piece.input, separation.kappa, area) : 0.0;
    piece.factor.um_per_pixel *= (1.0 + to_area) * calibration::temperature_factor(scale, conditions);
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
  return pooled;
}

std::vector<SeparationInput> inputs_of(const std::vector<Piece>& pieces) {
  // One direction is enough and keeps the model simple: the one with more shots whose graduations have numbers.
  const auto usable = [](const Piece& piece, char direction) {
    return piece.factor.direction == direction && piece.axis.numbering.known;
  };
  const auto count = [&](char direction) {
    return std::count_if(pieces.begin(), pieces.end(), [&](const Piece& piece) { return usable(piece, direction); });
  };
  const char direction = count('y') > count('x') ? 'y' : 'x';
  std::vector<SeparationInput> inputs;
  for (const Piece& piece : pieces)
    if (usable(piece, direction)) inputs.push_back(piece.input);
  return inputs;
}

}  // namespace

SetupCalibration calibrate_setup(std::span<const Shot> shots, const ReferenceScale& scale,
                                 const SetupConditions& conditions) {
  if (shots.empty()) throw std::invalid_argument("calibrate_setup: there is no shot");
  std::vector<Piece> pieces = pieces_of(shots, scale);
  const MeasuringArea area = area_of(shots.front(), conditions);
  SetupCalibration result;
  result.separation = calibration::separate(inputs_of(pieces), scale, area);
  const Scatter pooled = settle(pieces, scale, conditions, result.separation, area);

  std::vector<Group> groups;
  for (const char direction : {'x', 'y'})
    if (const auto group = of_direction(pieces, direction); !group.empty())
      groups.emplace_back(group.begin(), group.end());
  const Sum sum{scale, conditions, result.separation, area, groups, factor_of(groups)};
  result.budget = budget_of(sum, pooled, true);
  const CombinedUncertainty combined = calibration::sum_of(result.budget);
  result.um_per_pixel = calibration::factor_of(sum.factor, combined);
  result.pixels_per_um = calibration::reciprocal_of(sum.factor, combined);
  result.degrees_of_freedom = combined.degrees_of_freedom;
  for (const Group& group : groups)
    (group.front()->factor.direction == 'x' ? result.x : result.y) = along(sum, group, pooled);
  const BudgetLine fit = fit_line(sum);
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
  return propagate(
      inputs,
      [&](std::span<const double> x) {
        double shares = 0.0;
        for (std::size_t i = 0; i < x.size(); ++i)
          if (i != temperature && i != expansion && i != slope) shares += x[i];
        const double size = temperature == kNone ? 1.0 : grown(x[expansion], x[temperature]) / taken;
        return factor * (1.0 + shares) * size * std::cos(slope == kNone ? 0.0 : x[slope]);
      },
      trials, seed);
}

MicrometresPerPixel nominal_factor(Micrometres pixel_pitch, int binning, double objective, double relay, double zoom) {
  return {pixel_pitch.value * binning / (objective * relay * zoom)};
}

}  // namespace scale
