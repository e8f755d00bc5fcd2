#include <scale/reticle.h>
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <stdexcept>

#include "calibration/budget.h"
#include "calibration/certified.h"
#include "calibration/components.h"
#include "calibration/reticle_advice.h"
#include "calibration/reticle_fit.h"

namespace scale {
namespace {

using namespace calibration;

// Scatter of that probability is a reason to widen the uncertainty, and of a multiple of what was stated to refuse.
constexpr double kMoreThanStated = 0.05, kBeyondBelief = 3.0;

tl::unexpected<Failure> refused(const std::string& code, const std::string& message) {
  return tl::unexpected<Failure>(Failure{"readings", code, message});
}

// Shortest text that reads back as the same number.
std::string number_words(double value, bool estimated) {
  std::array<char, 32> digits{};
  const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value).ptr;
  const std::string text(digits.data(), end);
  return estimated && text.find_first_not_of("-0123456789") == std::string::npos ? text + ".0" : text;
}

void require_sound(const ReferenceScale& scale, const ReadingConditions& conditions) {
  const auto positive = [](double value) { return value > 0.0 && std::isfinite(value); };
  if (!positive(scale.division.value)) throw std::invalid_argument("calibrate_reticle: the division must be positive");
  const bool sound = (!conditions.coincidence || positive(conditions.coincidence->value)) &&
                     (!conditions.line_width || positive(conditions.line_width->value)) &&
                     positive(conditions.estimate) && conditions.parallax >= 0.0 &&
                     std::isfinite(conditions.parallax) && conditions.reticle_divisions >= 0;
  if (!sound) throw std::invalid_argument("calibrate_reticle: limits must be positive");
}

std::optional<Failure> beyond(const EyeReading& reading, const ReferenceScale& scale,
                              const ReadingConditions& conditions) {
  const auto outside = [](double value, int divisions) {
    return !std::isfinite(value) || value < 0.0 || (divisions > 0 && value > divisions);
  };
  const auto told = [&](const std::string& which, int divisions) {
    return Failure{"readings", "beyond-scale",
                   "the reading " + reading_words(reading) + " lies beyond the " + which +
                       (divisions > 0 ? ", which has " + std::to_string(divisions) + " divisions" : "") +
                       "; count divisions from its zero line"};
  };
  if (outside(reading.reticle, conditions.reticle_divisions)) return told("reticle", conditions.reticle_divisions);
  if (outside(reading.micrometer, scale.divisions)) return told("micrometer", scale.divisions);
  return std::nullopt;
}

std::optional<Failure> out_of_step(const EyeReading& before, const EyeReading& after) {
  if (after.reticle == before.reticle)
    return Failure{"readings", "equal-readings",
                   after.micrometer == before.micrometer
                       ? "the reading " + reading_words(after) + " is there twice; repeat it in a series of its own"
                       : "the readings " + reading_words(before) + " and " + reading_words(after) +
                             " give one reticle line two places; read it again"};
  if (after.micrometer > before.micrometer) return std::nullopt;
  return Failure{"readings", "non-monotone",
                 "from " + reading_words(before) + " to " + reading_words(after) +
                     " the reticle grows and the micrometer does not; read again, with both zero lines at one side"};
}

std::optional<Failure> unusable(std::span<const EyeReading> sorted, const ReferenceScale& scale,
                                const ReadingConditions& conditions) {
  std::map<int, int> count;
  for (const EyeReading& reading : sorted) {
    ++count[reading.series];
    if (auto failure = beyond(reading, scale, conditions)) return failure;
  }
  for (std::size_t i = 1; i < sorted.size(); ++i)
    if (sorted[i].series == sorted[i - 1].series)
      if (auto failure = out_of_step(sorted[i - 1], sorted[i])) return failure;
  for (const auto& [series, readings] : count)
    if (readings < 2)
      return Failure{"readings", "too-few-readings",
                     count.size() == 1 ? "one reading tells no length; add the one at the zero lines, like 0=0"
                                       : "a series has one reading alone; each needs two, as the slide was moved"};
  if (sorted.empty()) return Failure{"readings", "too-few-readings", "there is no reading; write them like 0=0 97=100"};
  return std::nullopt;
}

// What is worked on: readings in order, with their places in the caller's list.
struct Work {
  std::vector<EyeReading> sorted;
  std::vector<std::size_t> place;
  std::vector<ReadingPoint> points;  // those that count
  ReticleFit fit;
  std::vector<ReadingResidual> told;  // in the order of `sorted`
  std::vector<Warning> warnings;
};

Work in_order(std::span<const EyeReading> readings) {
  Work work;
  work.place.resize(readings.size());
  std::iota(work.place.begin(), work.place.end(), std::size_t{0});
  std::stable_sort(work.place.begin(), work.place.end(), [&](std::size_t a, std::size_t b) {
    return std::pair(readings[a].series, readings[a].reticle) < std::pair(readings[b].series, readings[b].reticle);
  });
  for (const std::size_t at : work.place) work.sorted.push_back(readings[at]);
  work.told.resize(readings.size());
  return work;
}

// The slope that weights and steps are worked out with, from the ends of the first series.
double first_slope(const Work& work, const ReadingScales& scales) {
  const auto last = std::find_if(work.sorted.rbegin(), work.sorted.rend(), [&](const EyeReading& reading) {
    return reading.series == work.sorted.front().series;
  });
  return (scales.position_um(last->micrometer) - scales.position_um(work.sorted.front().micrometer)) /
         (last->reticle - work.sorted.front().reticle);
}

void fit_readings(Work& work, const ReadingScales& scales) {
  work.points = points_of(work.sorted, scales, first_slope(work, scales));
  work.fit = fit_points(work.points);
  if (!work.fit.valid) return;
  work.points = points_of(work.sorted, scales, work.fit.slope);
  work.fit = fit_points(work.points);
}

std::string list_of(const std::vector<std::size_t>& places, const std::vector<EyeReading>& readings) {
  std::string text;
  for (const std::size_t at : places) text += (text.empty() ? "" : ", ") + reading_words(readings[at]);
  return text;
}

// Leaves out the one reading that the others contradict, when it can be told which one that is.
std::optional<Failure> judge(Work& work, const ReadingScales& scales) {
  const ReticleFit before = work.fit;
  const double division = scales.scale.division.value;
  if (const auto misfit = find_misfit(work.points, division)) {
    const ReadingPoint wrong = work.points[misfit->point];
    const std::string name = list_of(wrong.from, work.sorted);
    const std::string what = misfit->what.empty() ? "does not fit the others" : "looks " + misfit->what;
    if (before.degrees_of_freedom < 2)
      return Failure{"readings", "inconsistent-readings",
                     "the readings contradict each other; " + name + " " + what +
                         ", but with so few it cannot be left out: read it again, and one more"};
    work.points.erase(work.points.begin() + static_cast<std::ptrdiff_t>(misfit->point));
    work.fit = fit_points(work.points);
    for (const std::size_t at : wrong.from) work.told[at].used = false, work.told[at].remark = what;
    work.warnings.push_back({misfit->what.empty() ? "reading-left-out" : "miscounted",
                             name + " " + what + " and is left out; read it again"});
  }
  if (work.fit.degrees_of_freedom == 0)
    work.warnings.push_back({"unchecked", "two readings a series cannot show a miscount; add a third"});
  const double ratio =
      work.fit.degrees_of_freedom > 0 ? std::sqrt(work.fit.chi_squared / work.fit.degrees_of_freedom) : 0.0;
  if (work.fit.chance() >= kMoreThanStated) return std::nullopt;
  if (ratio > kBeyondBelief)
    return Failure{"readings", "inconsistent-readings",
                   "the readings scatter " + in_words(ratio) +
                       " times as much as their uncertainty and it cannot be told which is wrong; count again from "
                       "the zero lines"};
  work.warnings.push_back({"readings-scatter", "the readings scatter " + in_words(ratio) +
                                                   " times as much as their stated uncertainty; U is widened by that"});
  return std::nullopt;
}

double line_at(const Work& work, const EyeReading& reading) {
  for (std::size_t i = 0; i < work.points.size(); ++i)
    if (work.points[i].series == reading.series) return work.fit.offsets[i] + work.fit.slope * reading.reticle;
  return std::nan("");  // judge() never leaves a series without a point
}

void tell_residuals(Work& work, const ReadingScales& scales) {
  const std::vector<ReadingPoint> each = [&] {
    std::vector<ReadingPoint> list;
    for (const EyeReading& reading : work.sorted) {
      const std::vector<ReadingPoint> own = points_of(std::span(&reading, 1), scales, work.fit.slope);
      list.push_back(own.front());
    }
    return list;
  }();
  for (std::size_t i = 0; i < work.sorted.size(); ++i) {
    work.told[i].residual_um = each[i].y - line_at(work, work.sorted[i]);
    work.told[i].uncertainty_um = each[i].uncertainty(work.fit.slope);
  }
  for (const ReadingPoint& point : work.points) {
    if (point.from.size() < 2) continue;
    for (const std::size_t at : point.from)
      work.told[at].remark = "one finding with its neighbours, " + reading_words(work.sorted[point.from.front()]) +
                             " to " + reading_words(work.sorted[point.from.back()]);
  }
}

BudgetLine reading_line(const Work& work, ReticleCalibration& result) {
  const ReticleFit& fit = work.fit;
  const double ratio = fit.degrees_of_freedom > 0 ? std::sqrt(fit.chi_squared / fit.degrees_of_freedom) : 1.0;
  const bool widened = fit.chance() < kMoreThanStated;
  const double feasible = feasible_half_range(work.points) / std::sqrt(6.0);
  const double uncertainty = std::max(fit.slope_uncertainty * (widened ? ratio : 1.0), feasible);
  result.reading_uncertainty = uncertainty;
  result.chi_squared = fit.chi_squared;
  result.chi_squared_freedom = fit.degrees_of_freedom;
  return relative_line("reading", uncertainty / fit.slope, fit.slope,
                       widened ? Distribution::student_t : Distribution::normal,
                       widened ? fit.degrees_of_freedom : kInfinity,
                       widened ? "scatter of " + std::to_string(work.points.size()) + " findings"
                               : std::to_string(work.points.size()) + " findings, coincidence and estimate as stated");
}

BudgetLine scale_line(const Work& work, const ReferenceScale& scale) {
  constexpr const char* kName = "reference scale";
  if (!scale.uncertainty) return unstated_line(kName, "its uncertainty is not stated");
  double mean = 0.0, squares = 0.0;
  for (const ReadingPoint& point : work.points) mean += point.y / static_cast<double>(work.points.size());
  for (const ReadingPoint& point : work.points) squares += std::pow(point.y - mean, 2);
  const auto [least, most] = std::minmax_element(work.points.begin(), work.points.end(),
                                                 [](const auto& a, const auto& b) { return a.y < b.y; });
  const double span = most->y - least->y;
  return relative_line(kName, certificate_uncertainty(*scale.uncertainty, span, squares), work.fit.slope,
                       Distribution::normal, kInfinity, "certificate, over " + in_words(span) + " µm");
}

double longest_um(const Work& work) {
  double span = 0.0;
  for (const ReadingPoint& point : work.points) span = std::max(span, point.y - work.points.front().y);
  return span;
}

std::vector<BudgetLine> budget_of(const Work& work, const ReferenceScale& scale,
                                  const std::optional<SetupConditions>& conditions, ReticleCalibration& result) {
  const double factor = work.fit.slope;
  std::vector<BudgetLine> budget = {reading_line(work, result), scale_line(work, scale)};
  if (!conditions) return budget;
  const double span = longest_um(work);
  std::set<int> series;
  for (const ReadingPoint& point : work.points) series.insert(point.series);
  BudgetLine field = conditions->stated.field
                         ? limits_line("field", *conditions->stated.field, factor, "as stated")
                         : unstated_line("field", "readings by eye cannot tell distortion; state budget.field");
  for (BudgetLine& line : eyepiece_lines(scale, *conditions, span, std::move(field), series.size(), factor))
    budget.push_back(std::move(line));
  return budget;
}

}  // namespace

std::string reading_words(const EyeReading& reading) {
  return number_words(reading.reticle, reading.reticle_estimated) + "=" +
         number_words(reading.micrometer, reading.micrometer_estimated);
}

tl::expected<ReticleCalibration, Failure> calibrate_reticle(std::span<const EyeReading> readings,
                                                            const ReferenceScale& scale,
                                                            const ReadingConditions& reading,
                                                            const std::optional<SetupConditions>& conditions) {
  require_sound(scale, reading);
  const ReadingScales scales{scale, reading};
  Work work = in_order(readings);
  if (auto failure = unusable(work.sorted, scale, reading)) return tl::unexpected<Failure>(*failure);
  fit_readings(work, scales);
  if (!work.fit.valid)
    return refused("too-few-readings", "neighbouring lines alone tell no length; read a coincidence further off");
  if (auto failure = judge(work, scales)) return tl::unexpected<Failure>(*failure);
  tell_residuals(work, scales);
  ReticleCalibration result;
  result.budget = budget_of(work, scale, conditions, result);
  const double corrected = conditions ? room_factor(scale, *conditions, longest_um(work)) : 1.0;
  const CombinedUncertainty combined = sum_of(result.budget);
  result.um_per_division = factor_of(work.fit.slope * corrected, combined);
  result.degrees_of_freedom = combined.degrees_of_freedom;
  result.budget_complete = is_complete(result.budget);
  result.readings.resize(readings.size());
  for (std::size_t i = 0; i < readings.size(); ++i) result.readings[work.place[i]] = work.told[i];
  result.further = further_reading(work.points, work.fit, scales, readings);
  // What widened the uncertainty of these readings is to be expected of the next one too.
  if (result.further) result.further->improved_uncertainty *= result.reading_uncertainty / work.fit.slope_uncertainty;
  result.warnings = std::move(work.warnings);
  return result;
}

}  // namespace scale
