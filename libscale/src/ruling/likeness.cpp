#include "ruling/likeness.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "numeric/robust.h"
#include "ruling/bands.h"
#include "ruling/edges.h"

namespace scale {

namespace {

constexpr double kBeyond = 4.5;         // periods beyond the ends that are looked at
constexpr double kLikeAmplitude = 0.6;  // of the lines' own
constexpr double kLikeShare = 0.7;      // of the variance that their profile explains
constexpr double kLeastClean = 0.35;    // of all windows
constexpr double kOffPlace = 0.15;      // of the period

// The part of v in which all lines are; empty (high below low) where there is none.
AlongRange common_range(const Graduations& g) {
  AlongRange range{g.lines.front().v_low, g.lines.front().v_high};
  for (const MeasuredLine& line : g.lines) range = {std::max(range.low, line.v_low), std::min(range.high, line.v_high)};
  return range;
}

}  // namespace

double contrast_of(const Graduations& g) {
  std::vector<double> amplitudes;
  for (const MeasuredLine& line : g.lines) amplitudes.push_back(std::abs(line.amplitude));
  return numeric::upper_median(amplitudes);
}

double scatter_along(const Graduations& g, double noise) {
  // Where a base line or the lines of a grid cross, a window says nothing about the line; but a pattern of which most
  // is like that is no ruling.
  const auto clean = std::count_if(g.windows.begin(), g.windows.end(),
                                   [](const LineWindow& w) { return w.fit.pixels > 0.0 && !w.spoilt; });
  const bool all = static_cast<double>(clean) < kLeastClean * static_cast<double>(g.windows.size());
  const auto counts = [all](const LineWindow& w) { return w.fit.pixels > 0.0 && (all || !w.spoilt); };
  std::vector<std::vector<double>> own(g.lines.size());
  for (const LineWindow& w : g.windows)
    if (counts(w)) own[w.line].push_back(w.fit.amplitude);
  std::vector<double> usual, deviations;
  for (auto& amplitudes : own) usual.push_back(numeric::upper_median(std::move(amplitudes)));
  double variance = 0.0;
  for (const LineWindow& w : g.windows) {
    if (!counts(w)) continue;
    const double a = usual[w.line];
    deviations.push_back(std::abs(w.fit.amplitude / a - 1.0));
    variance += 2.0 * noise * noise / (a * a * std::max(1e-12, w.fit.amplitude_information));
  }
  if (deviations.empty()) return 1.0;
  const double scatter = 1.4826 * numeric::upper_median(deviations);
  return std::sqrt(std::max(0.0, scatter * scatter - variance / static_cast<double>(deviations.size())));
}

double scatter_between(const Graduations& g) {
  std::vector<double> steps;
  for (std::size_t i = 1; i < g.lines.size(); ++i) {
    const double a = g.lines[i - 1].amplitude, b = g.lines[i].amplitude;
    steps.push_back(std::abs(b - a) / std::abs(0.5 * (a + b)));
  }
  return 1.4826 * numeric::upper_median(steps) / std::sqrt(2.0);
}

double raggedness(const Graduations& g) {
  std::vector<double> lengths;
  std::array<std::vector<double>, 3> bends;
  const auto ends = [](const MeasuredLine& l) {
    return std::array<double, 3>{l.v_low, l.v_high, 0.5 * (l.v_low + l.v_high)};
  };
  for (std::size_t i = 0; i < g.lines.size(); ++i) {
    lengths.push_back(g.lines[i].v_high - g.lines[i].v_low);
    if (i < 2) continue;
    const auto a = ends(g.lines[i - 2]), b = ends(g.lines[i - 1]), c = ends(g.lines[i]);
    for (std::size_t k = 0; k < 3; ++k) bends[k].push_back(std::abs(a[k] - 2.0 * b[k] + c[k]));
  }
  double least = 1e300;
  for (auto& bend : bends)
    least = std::min(least, numeric::kMadToSigma * numeric::upper_median(std::move(bend)) / std::sqrt(6.0));
  return least / numeric::upper_median(std::move(lengths));
}

double shape_drift(const Graduations& g) {
  const std::size_t third = std::max<std::size_t>(1, g.lines.size() / 3);
  std::vector<FoldWindow> first, last;
  for (const LineWindow& w : g.windows) {
    if (w.fit.pixels <= 0.0 || (w.line >= third && w.line + third < g.lines.size())) continue;
    const double centre = g.centre(w.line, w.strip);
    (w.line < third ? first : last).push_back({w.strip, centre, w.fit.background, w.fit.amplitude, {}});
  }
  if (first.empty() || last.empty()) return 0.0;
  const LineShape a = fold_shape(g.strips, first, g.shape.window, 0.5),
                  b = fold_shape(g.strips, last, g.shape.window, 0.5);
  double sum = 0.0, count = 0.0;
  for (double t = -g.shape.window; t <= g.shape.window; t += a.step, count += 1.0)
    sum += std::pow(a.at(t).value - b.at(t).value, 2);
  return std::sqrt(sum / count);
}

double misfit(const Graduations& g, double contrast, double noise) {
  std::vector<double> sum(g.lines.size(), 0.0), count(g.lines.size(), 0.0), lines;
  for (const LineWindow& w : g.windows) {
    if (w.fit.pixels <= 0.0) continue;
    const double rows = std::max(1.0, w.fit.pixels / (2.0 * g.shape.window));
    sum[w.line] += std::max(0.0, w.fit.residual_variance - 1.5 * noise * noise) / rows;
    count[w.line] += 1.0;
  }
  for (std::size_t l = 0; l < sum.size(); ++l)
    if (count[l] > 0.0) lines.push_back(std::sqrt(sum[l] / count[l]) / contrast);
  if (lines.empty()) return 1.0;
  return numeric::quantile(std::move(lines), 0.8);
}

double evenness_in_turns(const Graduations& g) {
  double least = 1.0;
  for (const int m : {2, 3, 4, 5}) {
    std::vector<std::vector<FoldWindow>> classes(static_cast<std::size_t>(m));
    for (const LineWindow& w : g.windows)
      if (w.used)
        classes[static_cast<std::size_t>(g.lines[w.line].index % m)].push_back(
            {w.strip, g.centre(w.line, w.strip), w.fit.background, 1.0, {}});
    double weakest = 1e300, strongest = 0.0;
    for (const std::vector<FoldWindow>& windows : classes) {
      if (windows.size() < 3) continue;
      const LineShape shape = fold_shape(g.strips, windows, 0.5 * g.period, 0.5);
      double low = 1e300, high = -1e300;
      for (double t = -0.5 * g.period; t <= 0.5 * g.period; t += shape.step) {
        low = std::min(low, shape.at(t).value);
        high = std::max(high, shape.at(t).value);
      }
      weakest = std::min(weakest, high - low);
      strongest = std::max(strongest, high - low);
    }
    if (strongest > 0.0) least = std::min(least, weakest / strongest);
  }
  return least;
}

double strays(const ImageView& image, const Graduations& g) {
  AlongRange range = common_range(g);
  if (range.high - range.low < 2.0) range = {g.v_reference - 2.0, g.v_reference + 2.0};
  const Profile profile = strip_profile(one_strip(image, g.strips.layout.angle, range.low, range.high), 0);
  if (profile.end - profile.begin < 8) return 0.0;
  const double smoothing = std::max(0.8, g.shape.blur);
  const Edges edges = edges_of(profile, edge_response(profile, smoothing), 0.0);
  const double step = std::abs(g.period);
  const double tolerance = std::max(1.0, 0.05 * step), first = g.lines.front().s - 0.5 * step,
               last = g.lines.back().s + 0.5 * step;
  double off = 0.0;
  for (const auto* set : {&edges.rising, &edges.falling}) {
    std::vector<double> phase, strength;
    for (const Edge& edge : *set) {
      if (edge.s < first || edge.s > last) continue;
      const auto nearest =
          std::min_element(g.lines.begin(), g.lines.end(), [&](const MeasuredLine& a, const MeasuredLine& b) {
            return std::abs(a.s - edge.s) < std::abs(b.s - edge.s);
          });
      phase.push_back(edge.s - nearest->s);
      strength.push_back(edge.strength);
    }
    if (strength.empty()) continue;
    std::vector<double> sorted = strength;
    const std::size_t lines = std::min(sorted.size(), g.lines.size());
    std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(lines / 2), sorted.end(),
                     std::greater<>());
    const double least = 0.5 * sorted[lines / 2];
    for (std::size_t i = 0; i < phase.size(); ++i) {
      if (strength[i] < least) continue;
      double fellows = 0.0;
      for (std::size_t j = 0; j < phase.size(); ++j)
        if (strength[j] >= least && std::abs(phase[j] - phase[i]) < tolerance) fellows += 1.0;
      off += fellows < 0.4 * static_cast<double>(g.lines.size()) ? 1.0 : 0.0;
    }
  }
  return 0.5 * off / static_cast<double>(g.lines.size());
}

int lines_elsewhere(const Graduations& g) {
  const AlongRange range = common_range(g);
  const StripLayout& layout = g.strips.layout;
  const int from = std::clamp(static_cast<int>((range.low - layout.v0) / layout.height), 0, layout.count - 1);
  const int to = std::clamp(static_cast<int>((range.high - layout.v0) / layout.height), from + 1, layout.count);
  const Strips band = merged(g.strips, from, to);
  const LineShape shape = g.window_shape();
  std::vector<double> amplitudes;
  for (const MeasuredLine& line : g.lines) amplitudes.push_back(line.amplitude);
  const double usual = numeric::upper_median(std::move(amplitudes));
  const double step = std::max(0.25, 0.5 * g.shape.blur);
  const auto share_at = [&](double s) {
    const auto fit = fit_window(band, 0, s, shape, {});
    const double ratio = fit ? fit->amplitude / usual : 0.0;
    return ratio > kLikeAmplitude && ratio < 1.0 / kLikeAmplitude ? fit->share : 0.0;
  };
  int elsewhere = 0;
  for (const bool after : {false, true}) {
    const std::size_t l = after ? g.lines.size() - 1 : 0, m = after ? l - 1 : 1;
    const double end = g.centre_at(l, band.v_centre(0));
    const double pitch = (g.lines[l].s - g.lines[m].s) / std::abs(g.lines[l].index - g.lines[m].index);
    if (!(std::abs(pitch) < 2.0 * g.period)) continue;  // a line that ran away
    double before = 0.0, here = share_at(end + 0.4 * pitch);
    for (double t = 0.4 * std::abs(pitch) + step; t < kBeyond * std::abs(pitch); t += step) {
      const double next = share_at(end + (pitch > 0.0 ? t : -t));
      const double phase = (t - step) / std::abs(pitch);
      if (here > kLikeShare && here >= before && here > next && std::abs(phase - std::round(phase)) > kOffPlace)
        ++elsewhere;
      before = here;
      here = next;
    }
  }
  return elsewhere;
}

}  // namespace scale
