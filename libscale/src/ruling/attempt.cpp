#include "ruling/attempt.h"

#include <algorithm>
#include <cmath>

#include <scale/units.h>

#include "ruling/graduations.h"
#include "ruling/line_fit.h"
#include "ruling/out_of_view.h"
#include "ruling/plausible.h"

namespace scale {

namespace {

constexpr int kLeastGraduations = 3;
// Pixels, standard, of the distance between the first and the last line: what a shape tabulated from the picture itself
// leaves of the pixel raster, of unequal light and of focus that changes over the field. Judgement (estimators of this
// kind are known to be good to 0.0003 to 0.002 pixel), checked by the accuracy suite.
constexpr double kModelLimit = 0.0008;
// The same of a shape that is known at some fractions of a pixel only: the lines' places can stretch with it.
constexpr double kUnpinnedLimit = 0.03;

// Of the pitch: lines that scatter so much lie anywhere (evenly spread, 0.29), and say nothing of what hides in the
// blur.
constexpr double kAnywhere = 0.2;

constexpr double kUnseenFan = 4.0;  // standard deviations: as the joint fit asks of a fan

// Lines that fan out or bow have another distance at their ends than in their middle: a quarter of that relative
// change, as a standard uncertainty (rectangular): the reference lies in their middle.
double change_along(const Graduations& g) {
  const AlongRange range = whole_range(g);
  const double half_span = 0.5 * (g.lines.back().s - g.lines.front().s),
               reach = std::max(range.high - g.v_reference, g.v_reference - range.low);
  const double change =
      (2.0 * std::abs(g.bend.fan) * reach + std::abs(g.bend.bow_fan) * reach * reach) / std::max(1.0, half_span);
  return 0.25 * change / std::sqrt(12.0);
}

// What it would change of the pitch, relative, if the lines' heights were light's or their own: the slope of the
// doubts.
double doubt_of_light(const Graduations& g) {
  double n = 0.0, sum_i = 0.0, sum_d = 0.0, sum_ii = 0.0, sum_id = 0.0;
  for (const MeasuredLine& line : g.lines) {
    const double i = line.index, d = line.light_doubt;
    n += 1.0, sum_i += i, sum_d += d, sum_ii += i * i, sum_id += i * d;
  }
  return (n * sum_id - sum_i * sum_d) / (n * sum_ii - sum_i * sum_i) / g.period;
}

// What the fan of the lines says of the pitch along them. A fan that is not significant was set to zero: it may be as
// large as kUnseenFan standard deviations. That of the slope of n lines of length L over the span, each centre good to
// sigma, is 12 sigma / (L span sqrt(n)), both straight lines' slopes having the factor sqrt(12).
void add_growth(Ruling& ruling, const WorkingView& work, const Graduations& g) {
  double sigma = 0.0, length = 0.0;
  for (const MeasuredLine& line : g.lines) sigma += line.sigma, length += line.v_high - line.v_low;
  const double n = static_cast<double>(g.lines.size()), span = g.lines.back().s - g.lines.front().s;
  const double one = 12.0 * (sigma / n) / (std::max(1.0, length / n) * std::max(1.0, span) * std::sqrt(n));
  // The frame's v runs the other way where it is transposed, unless its axis was turned round.
  const double way = work.transposed && g.angle >= 0.0 ? -1.0 : 1.0;
  ruling.pitch_growth_per_px = way * 2.0 * g.bend.fan / std::max(1.0, span);
  ruling.pitch_growth_uncertainty = g.bend.fan == 0.0 ? kUnseenFan / std::sqrt(3.0) * one : one;
}

struct MeasuredRuling {
  Ruling ruling;
  LineFit fit;
};

MeasuredRuling make_ruling(const WorkingView& work, const Graduations& g, const Hypothesis& hypothesis) {
  MeasuredRuling result;
  Ruling& ruling = result.ruling;
  const double angle = work.turned(g.angle);
  ruling.direction = {angle};
  ruling.direction_uncertainty = g.angle_uncertainty;
  ruling.false_alarm = std::pow(10.0, std::max(-300.0, hypothesis.lattice.log10_false_alarms));
  struct Item {
    double t;
    std::size_t line;
  };
  std::vector<Item> items;
  for (std::size_t l = 0; l < g.lines.size(); ++l) {
    if (!(g.lines[l].sigma > 0.0)) continue;
    const cv::Point2d p = work.in_picture(g.lines[l].x, g.lines[l].y);
    items.push_back({p.x * std::cos(angle) + p.y * std::sin(angle), l});
  }
  if (items.size() < 3) return result;
  const bool reversed = items.back().t < items.front().t;
  if (reversed) std::reverse(items.begin(), items.end());
  const int zero = g.lines[items.front().line].index;
  std::vector<LinePoint> points;
  for (const Item& item : items) {
    const MeasuredLine& line = g.lines[item.line];
    points.push_back({std::abs(line.index - zero), item.t, line.sigma});
  }
  result.fit = fit_lines(points, g.window_freedom, g.pinned ? kModelLimit : kUnpinnedLimit);
  const LineFit& fit = result.fit;
  ruling.origin_px = fit.origin;
  const FieldMean field = mean_over_field(work, g, reversed, fit);
  ruling.pitch_px = fit.pitch + field.correction;
  ruling.pitch_uncertainty_px = std::hypot(std::hypot(fit.pitch_uncertainty, field.uncertainty),
                                           change_along(g) * fit.pitch, doubt_of_light(g) * fit.pitch);
  ruling.degrees_of_freedom = fit.degrees_of_freedom;
  add_growth(ruling, work, g);
  ruling.residual_rms_px = fit.residual_rms;
  ruling.residual_max_px = fit.residual_max;
  ruling.nonlinearity = fit.nonlinearity;
  ruling.nonlinearity_max_px = fit.nonlinearity_max;
  ruling.nonlinearity_p_value = fit.nonlinearity_p_value;
  const double c = std::cos(g.angle), s = std::sin(g.angle);
  const auto end_of = [&](const MeasuredLine& line, double v) {
    const double along = v - g.v_reference;
    return work.in_picture(line.x - along * s, line.y + along * c);
  };
  double dark = 0.0;
  for (std::size_t i = 0; i < items.size(); ++i) {
    const MeasuredLine& line = g.lines[items[i].line];
    const cv::Point2d a = end_of(line, line.v_low), b = end_of(line, line.v_high);
    Graduation graduation;
    graduation.index = points[i].index;
    graduation.position_px = points[i].t;
    graduation.uncertainty_px = line.sigma;
    graduation.residual_px = fit.residual[i];
    graduation.used = fit.used[i];
    graduation.x1_px = a.x, graduation.y1_px = a.y, graduation.x2_px = b.x, graduation.y2_px = b.y;
    dark += line.amplitude < 0.0 ? 1.0 : -1.0;
    if (!fit.used[i]) ruling.rejected.push_back({a.x, a.y, b.x, b.y, "outlier"});
    ruling.graduations.push_back(graduation);
  }
  for (const MeasuredLine& line : g.lines) {
    if (!line.lopsided) continue;
    const cv::Point2d a = end_of(line, line.v_low), b = end_of(line, line.v_high);
    ruling.rejected.push_back({a.x, a.y, b.x, b.y, "uneven-ground"});
  }
  const auto used = std::count(fit.used.begin(), fit.used.end(), true);
  ruling.missing = places_missing(ruling);
  ruling.low_confidence = used < 5;
  ruling.dark_on_bright = dark > 0.0;
  ruling.line_width_px = g.shape.width * std::cos(g.angle);
  ruling.edge_blur_px = g.shape.blur * std::cos(g.angle);
  for (double t = -0.5 * g.period; t <= 0.5 * g.period; t += LineShape::step) {
    if (std::abs(t) >= g.shape.reach) continue;
    ruling.profile_offset_px.push_back(t * std::cos(g.angle));
    ruling.profile_value.push_back(g.shape.at(t).value);
  }
  return result;
}

// The measured lines in the place of the edges that led to them.
Hypothesis as_hypothesis(const Graduations& g, const Hypothesis& before) {
  Hypothesis hypothesis = before;
  hypothesis.angle = g.angle;
  hypothesis.lattice.index.clear();
  hypothesis.lattice.position.clear();
  hypothesis.lattice.edge_strength.clear();
  for (const MeasuredLine& line : g.lines) {
    if (!(line.sigma > 0.0)) continue;
    if (hypothesis.lattice.index.empty()) hypothesis.v_low = line.v_low, hypothesis.v_high = line.v_high;
    hypothesis.lattice.index.push_back(line.index - g.lines.front().index);
    hypothesis.lattice.position.push_back(line.x + std::tan(g.angle) * line.y);
    hypothesis.v_low = std::max(hypothesis.v_low, line.v_low);
    hypothesis.v_high = std::min(hypothesis.v_high, line.v_high);
  }
  if (hypothesis.lattice.index.size() >= 2)
    hypothesis.lattice.pitch = (hypothesis.lattice.position.back() - hypothesis.lattice.position.front()) /
                               (hypothesis.lattice.index.back() - hypothesis.lattice.index.front());
  return hypothesis;
}

}  // namespace

int places_missing(const Ruling& ruling) {
  const auto used =
      std::count_if(ruling.graduations.begin(), ruling.graduations.end(), [](const Graduation& g) { return g.used; });
  return ruling.graduations.back().index + 1 - static_cast<int>(used);
}

Attempt attempt(const WorkingView& work, const Strips& strips, const Hypothesis& hypothesis, double noise, bool divided,
                int number) {
  Attempt result;
  const Graduations g = measure_graduations(work.view, strips, hypothesis, noise);
  if (g.lines.size() < 3) {
    result.failure =
        Failure{"graduations", "no-ruling",
                "evenly spaced edges were found, but no lines that belong to them; is this a ruled scale, in focus?"};
    return result;
  }
  MeasuredRuling measured = make_ruling(work, g, hypothesis);
  result.ruling = std::move(measured.ruling);
  result.measured = as_hypothesis(g, hypothesis);
  if (static_cast<int>(result.ruling.graduations.size()) < kLeastGraduations) {
    result.failure = Failure{"graduations", "too-few-graduations",
                             "fewer than three lines could be measured; bring more of the scale into view"};
    return result;
  }
  Implausible implausible_for = implausible(work.view, g, measured.fit, noise, work.diagonal, number);
  result.failure = std::move(implausible_for.failure);
  result.spots = implausible_for.spots;
  result.barely = implausible_for.barely;
  result.distorted = result.failure && too_distorted(g, measured.fit, work.diagonal);
  result.scattered = result.failure && too_scattered(measured.fit);
  const bool anywhere = !(measured.fit.residual_rms < kAnywhere * std::abs(measured.fit.pitch));
  Blur blur = anywhere ? Blur{} : blur_of(work.view, g);
  result.parts = blur.parts;
  if (divided || blur.aside) {
    result.hidden = std::move(blur.failure);
    result.block = blur.aside && !result.failure;
  } else if (blur.failure) {
    result.blurred = true;
    result.block = blur.seen;
    result.failure = std::move(blur.failure);
  }
  return result;
}

}  // namespace scale
