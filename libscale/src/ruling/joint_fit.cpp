#include "ruling/joint_fit.h"

#include <algorithm>
#include <cmath>

#include <oneapi/tbb/parallel_for.h>
#include <oneapi/tbb/parallel_invoke.h>
#include <Eigen/Dense>

#include "numeric/robust.h"
#include "ruling/lacking.h"
#include "ruling/light_share.h"
#include "ruling/lopsided.h"
#include "ruling/own_width.h"
#include "ruling/smooth_field.h"
#include "ruling/tracks.h"
#include "ruling/two_edges.h"

namespace scale {

namespace {

constexpr std::size_t kLeastWindows = 12;
constexpr std::size_t kEnoughLines = 7;  // to do without one at either end
constexpr std::size_t kManyLines = 12;   // to tell the light over them at each height
constexpr int kFitPasses = 4;
constexpr int kLeastPasses = 2;             // before the lines are
constexpr double kAtRest = 0.05;            // when they move by less than this, in their standard deviations
constexpr double kMisfit = 6.0;             // residual variance over the usual one
constexpr double kPlainShare = 0.9;         // of a window's variance, explained: surely a line
constexpr double kMostOverBest = 3.0;       // of the usual residual variance over that of the best quarter
constexpr double kNoScatter = 1e9;          // grey values: nothing to judge by
constexpr double kLeastClean = 0.35;        // of the windows used, to judge by them alone
constexpr double kOwnAmplitude = 0.7;       // how far a line's amplitude may be from the common one
constexpr double kAmplitudeSlack = 0.5;     // of a line's median amplitude, for a window to count in its mean
constexpr double kWindowOutlier = 4.5;      // robust standard deviations
constexpr double kBendSignificance = 4.0;   // standard deviations, for a fan or a bow of the lines
constexpr double kSmoothing = 0.3;          // bins, of the folded shape
constexpr std::size_t kWidthWindows = 6;    // of a line, that tell its width
constexpr std::size_t kNoiseWindows = 200;  // that tell the noise, about
constexpr double kMostForNoise = 1.5;       // of the usual residual variance: lines' ends show more

struct JointFit {
  Graduations& out;
  double period;
  LightShare light = {};
  std::vector<LineShape> own_shapes = {};  // shapes of lines that are broader or narrower, else empty

  double centre(std::size_t line, int strip) const { return out.centre(line, strip); }
  double z_line(std::size_t line) const { return out.z_of(line); }
  double z_strip(int strip) const {
    return out.strips.layout.count > 1 ? 2.0 * strip / (out.strips.layout.count - 1.0) - 1.0 : 0.0;
  }

  // How background and amplitude change across a window, per bin.
  Surroundings surroundings(const LineWindow& window, const SmoothField& background,
                            const SmoothField& amplitude) const {
    const double z1 = z_line(window.line), z2 = z_strip(window.strip);
    return {background.slope_along(z1, z2) / half_span(), light.share * amplitude.slope_along(z1, z2) / half_span(),
            lacking(window)};
  }

  const LineShape& shape_of(std::size_t line) const {
    return line < own_shapes.size() && !own_shapes[line].value.empty() ? own_shapes[line] : out.shape;
  }

  FoldWindow for_fold(const LineWindow& w, const SmoothField& background, const SmoothField& amplitude,
                      double broader) const {
    return {w.strip, centre(w.line, w.strip), w.fit.background, w.fit.amplitude, surroundings(w, background, amplitude),
            broader};
  }

  double half_span() const { return std::max(1.0, 0.5 * (out.lines.back().s - out.lines.front().s)); }

  Lacking lacking(const LineWindow& window) const { return {window.lacking, out.lines[window.line].amplitude}; }

  void fit_windows(const SmoothField* background, const SmoothField* amplitude) {
    const bool dense = period < kDensePeriod;
    const LineShape reader = reader_of(out.shape, period);
    oneapi::tbb::parallel_for(std::size_t{0}, out.windows.size(), [&](std::size_t i) {
      LineWindow& window = out.windows[i];
      const double z1 = z_line(window.line), z2 = z_strip(window.strip);
      const Surroundings around = background != nullptr ? surroundings(window, *background, *amplitude)
                                                        : Surroundings{0.0, 0.0, lacking(window)};
      const double where = centre(window.line, window.strip);
      const auto fit = dense && background != nullptr ? fit_shift(out.strips, window.strip, where, out.shape, around,
                                                                  background->value(z1, z2), amplitude->value(z1, z2))
                                                      : fit_window(out.strips, window.strip, where,
                                                                   dense ? reader : shape_of(window.line), around);
      window.used = fit.has_value() && !out.lines[window.line].lopsided;
      if (fit) window.fit = *fit;
    });
  }

  void leave_out_lopsided_ends() {
    if (out.lines.size() < kEnoughLines || period < kDensePeriod) return;
    for (const std::size_t end : {std::size_t{0}, out.lines.size() - 1})
      out.lines[end].lopsided = is_lopsided(out, end, shape_of(end));
  }

  void refold(const SmoothField& background, const SmoothField& amplitude) {
    std::vector<FoldWindow> windows;
    for (const LineWindow& window : out.windows)
      if (window.used) windows.push_back(for_fold(window, background, amplitude, out.lines[window.line].broader));
    const double smoothing = std::max(kSmoothing, 0.35 * out.shape.blur);
    const double window = out.shape.window;
    const Fold fold = fold_windows(out.strips, windows, 0.5 * period, &out.shape);
    LineShape next = smoothed(fold, smoothing);
    auto edges = two_edges(fold, next, out.shape, period);
    out.pinned = edges || phases_covered(out.strips, windows);
    if (edges) next = std::move(*edges);
    normalise_shape(next, period, false);
    next.window = window;
    next.rise = noise_rise(background, amplitude);
    out.shape = std::move(next);
    own_shapes.assign(out.lines.size(), {});
    for (std::size_t l = 0; l < out.lines.size(); ++l)
      if (const double broader = out.lines[l].broader; broader != 0.0)
        own_shapes[l] = broadened(out.shape, broader, period);
  }

  // How broad each line is by itself, from some of its windows, evenly spread; of one that the shape does not fit at
  // all, from any.
  void tell_widths(const SmoothField& background, const SmoothField& amplitude) {
    const std::vector<bool> may_differ = may_differ_in_width(out);
    std::vector<std::vector<std::size_t>> telling(out.lines.size());
    for (std::size_t i = 0; i < out.windows.size(); ++i) {
      const LineWindow& w = out.windows[i];
      if (!may_differ[w.line]) continue;
      if (w.used || (out.lines[w.line].windows == 0 && w.fit.pixels > 0.0)) telling[w.line].push_back(i);
    }
    std::vector<std::vector<FoldWindow>> windows(out.lines.size());
    for (std::size_t l = 0; l < out.lines.size(); ++l) {
      const std::size_t stride = (telling[l].size() + kWidthWindows - 1) / kWidthWindows;
      for (std::size_t k = stride / 2; k < telling[l].size(); k += stride)
        windows[l].push_back(for_fold(out.windows[telling[l][k]], background, amplitude, 0.0));
    }
    const std::vector<double> broader = broader_by(out, windows);
    for (std::size_t l = 0; l < out.lines.size(); ++l) out.lines[l].broader = broader[l];
  }

  // How the light's own noise changes over a line, from some of the windows. It grows with the light: where it does
  // not, something is clipped, which is nothing to rely on.
  double noise_rise(const SmoothField& background, const SmoothField& amplitude) const {
    FlatResidual flat;
    const double most = kMostForNoise * usual_variance(out.windows);
    const std::size_t stride = std::max<std::size_t>(1, out.windows.size() / kNoiseWindows);
    for (std::size_t i = 0; i < out.windows.size(); i += stride) {
      const LineWindow& w = out.windows[i];
      if (w.used && w.fit.residual_variance <= most)
        flat.add(out.strips, w.strip, centre(w.line, w.strip), shape_of(w.line), w.fit,
                 surroundings(w, background, amplitude));
    }
    const double rise = flat.rise();
    return rise * out.lines.front().amplitude > 0.0 ? rise : 0.0;
  }

  // Means over each line's windows, outliers left out, then the common lean from what is left within the lines. Returns
  // how far the lines moved: the most, in their standard deviations.
  double combine() {
    std::vector<double> line_shift(out.lines.size(), 0.0), line_weight(out.lines.size(), 0.0);
    const auto weight_of = [&](const LineWindow& w) {
      const double a = out.lines[w.line].amplitude;
      return a * a * w.fit.shift_information;
    };
    const double usual = usual_variance(out.windows);
    reject_misfits(usual);
    set_amplitudes();
    reject_other_amplitudes(usual);
    for (int pass = 0; pass < 3; ++pass) {
      std::fill(line_shift.begin(), line_shift.end(), 0.0);
      std::fill(line_weight.begin(), line_weight.end(), 0.0);
      for (const LineWindow& w : out.windows)
        if (w.used) line_shift[w.line] += weight_of(w) * shift_of(w), line_weight[w.line] += weight_of(w);
      for (std::size_t l = 0; l < out.lines.size(); ++l)
        if (line_weight[l] > 0.0) line_shift[l] /= line_weight[l];
      if (pass == 2 || !reject_far_windows(line_shift, weight_of)) break;
    }
    const Within within = within_lines(line_shift, line_weight, weight_of);
    double farthest = 0.0;
    for (std::size_t l = 0; l < out.lines.size(); ++l) {
      const double move = line_shift[l] - within.step.dot(within.mean.col(static_cast<Eigen::Index>(l)));
      farthest = std::max(farthest, std::abs(move) * std::sqrt(line_weight[l]));
      out.lines[l].s += move;
      out.lines[l].weight = line_weight[l];
      out.lines[l].windows = 0;
    }
    for (const LineWindow& w : out.windows) out.lines[w.line].windows += w.used;
    out.bend = bend_of(vector_of(out.bend) + within.step);
    return out.window_sigma > 0.0 ? farthest / out.window_sigma : 0.0;
  }

  static Eigen::Vector4d vector_of(const Bend& b) { return {b.lean, b.fan, b.bow, b.bow_fan}; }
  static Bend bend_of(const Eigen::Vector4d& b) { return {b(0), b(1), b(2), b(3)}; }

  // Least squares of the bend and what is left within the lines on v, z v, v^2 and z v^2; terms beyond the first are
  // kept when they stand out of the noise, also those of an earlier pass, whose windows may have been worse.
  struct Within {
    Eigen::Vector4d step = Eigen::Vector4d::Zero();
    Eigen::MatrixXd mean;  // of the four terms over each line's windows
  };

  template <class Weight>
  Within within_lines(const std::vector<double>& line_shift, const std::vector<double>& line_weight, Weight weight_of) {
    Within within;
    within.mean = Eigen::MatrixXd::Zero(4, static_cast<Eigen::Index>(out.lines.size()));
    const double half = std::max(1.0, 0.5 * out.strips.layout.count * out.strips.layout.height);
    const auto terms = [&](const LineWindow& w) {
      const double v = (out.strips.v_centre(w.strip) - out.v_reference) / half, z = z_line(w.line);
      return Eigen::Vector4d(v, z * v, v * v, z * v * v);
    };
    for (const LineWindow& w : out.windows)
      if (w.used) within.mean.col(static_cast<Eigen::Index>(w.line)) += weight_of(w) / line_weight[w.line] * terms(w);
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Vector4d right = Eigen::Vector4d::Zero();
    double squares = 0.0, freedom = -4.0;
    for (const LineWindow& w : out.windows) {
      if (!w.used) continue;
      const Eigen::Vector4d t = terms(w) - within.mean.col(static_cast<Eigen::Index>(w.line));
      const double r = shift_of(w) - line_shift[w.line];
      normal += weight_of(w) * t * t.transpose();
      right += weight_of(w) * r * t;
      squares += weight_of(w) * r * r;
      freedom += 1.0;
    }
    for (const MeasuredLine& line : out.lines) freedom -= line.windows > 0 ? 1.0 : 0.0;
    const Eigen::Vector4d unit(half, half, half * half, half * half);  // of terms in v / half, over terms in v
    const Eigen::Vector4d before = vector_of(out.bend).cwiseProduct(unit);
    squares += before.dot(2.0 * right + normal * before);
    right += normal * before;
    std::vector<int> kept{0};
    if (freedom > 4.0) {
      const Eigen::Matrix4d inverse = (normal + 1e-12 * normal.trace() * Eigen::Matrix4d::Identity()).inverse();
      const Eigen::Vector4d full = inverse * right;
      const double sigma2 = std::max(0.0, squares - full.dot(right)) / freedom;
      for (int k = 1; k < 4; ++k)
        if (full(k) * full(k) > kBendSignificance * kBendSignificance * sigma2 * inverse(k, k)) kept.push_back(k);
    }
    const Eigen::Index n = static_cast<Eigen::Index>(kept.size());
    Eigen::MatrixXd part(n, n);
    Eigen::VectorXd part_right(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      part_right(i) = right(kept[static_cast<std::size_t>(i)]);
      for (Eigen::Index j = 0; j < n; ++j)
        part(i, j) = normal(kept[static_cast<std::size_t>(i)], kept[static_cast<std::size_t>(j)]);
    }
    if (!(part.trace() > 0.0)) return within;
    const Eigen::VectorXd solution = part.ldlt().solve(part_right);
    const double left = std::max(0.0, squares - solution.dot(part_right));
    out.window_freedom = std::max(0.0, freedom + 4.0 - static_cast<double>(n));
    out.window_sigma = out.window_freedom >= 1.0 ? std::sqrt(left / out.window_freedom) : 0.0;
    out.angle_uncertainty = out.window_sigma * std::sqrt(part.inverse()(0, 0)) / half * std::cos(out.angle);
    for (Eigen::Index i = 0; i < n; ++i) within.step(kept[static_cast<std::size_t>(i)]) = solution(i);
    within.step = (within.step - before).cwiseQuotient(unit);
    for (Eigen::Index l = 0; l < within.mean.cols(); ++l) within.mean.col(l) = within.mean.col(l).cwiseProduct(unit);
    return within;
  }

  // The window's own amplitude where it is sure of it, else the line's.
  double shift_of(const LineWindow& w) const { return w.fit.shift * w.fit.amplitude / out.lines[w.line].amplitude; }

  // Ground and height of the lines over the field, from the windows used that leave at most this variance; false when
  // they are too few.
  bool fit_fields(SmoothField& background, SmoothField& amplitude, double most_variance,
                  SmoothField::Slopes slopes) const {
    std::vector<Eigen::Vector3d> grounds, heights;
    for (const LineWindow& w : out.windows) {
      if (!w.used || w.fit.residual_variance > most_variance) continue;
      grounds.emplace_back(z_line(w.line), z_strip(w.strip), w.fit.background);
      heights.emplace_back(z_line(w.line), z_strip(w.strip), w.fit.amplitude);
    }
    if (grounds.size() < kLeastWindows) return false;
    oneapi::tbb::parallel_invoke([&] { background.fit(grounds, slopes); }, [&] { amplitude.fit(heights, slopes); });
    return true;
  }

  // `terms` of the field along the ruling.
  void tell_light(const SmoothField& amplitude, int terms) {
    std::vector<double> own, smooth;
    for (std::size_t l = 0; l < out.lines.size(); ++l) {
      if (out.lines[l].windows == 0) continue;
      own.push_back(out.lines[l].amplitude), smooth.push_back(amplitude.value(z_line(l), 0.0));
    }
    light = share_of_light(own, smooth, terms);
  }

  void tell_doubts(const SmoothField& amplitude) {
    const double lever = light.uncertainty * shift_by_slope(out.shape) / half_span();
    for (std::size_t l = 0; l < out.lines.size(); ++l)
      out.lines[l].light_doubt = lever * amplitude.slope_along(z_line(l), 0.0) / amplitude.value(z_line(l), 0.0);
  }

  // Windows that hold nothing but the line tell how even ground and lines are, where they are many: in a grid every
  // second one may be crossed.
  SmoothScatter scatter_of_clean(int along, int across) const {
    std::vector<double> variances;
    for (const LineWindow& w : out.windows)
      if (w.used) variances.push_back(w.fit.residual_variance);
    if (variances.empty()) return {kNoScatter, kNoScatter};
    const double clean = kMisfit * numeric::quantile(variances, 0.25) + 1e-9;
    const auto many = std::count_if(variances.begin(), variances.end(), [&](double v) { return v <= clean; });
    SmoothField background(along, across), amplitude(along, across);
    if (static_cast<double>(many) < kLeastClean * static_cast<double>(variances.size()) ||
        !fit_fields(background, amplitude, clean, SmoothField::Slopes::of_the_field))
      fit_fields(background, amplitude, 1e300, SmoothField::Slopes::of_the_field);
    return {background.scatter(), amplitude.scatter()};
  }

  // A line that is broader or narrower than most leaves more in all its windows, and still is one where the model
  // explains nearly all of them. Of dense lines a window shows the neighbours too, which explain it without the line.
  void reject_misfits(double usual) {
    std::vector<std::vector<double>> left(out.lines.size()), shares(out.lines.size());
    for (const LineWindow& w : out.windows) {
      if (!w.used) continue;
      left[w.line].push_back(w.fit.residual_variance);
      shares[w.line].push_back(w.fit.share);
    }
    std::vector<double> limit(out.lines.size(), usual);
    for (std::size_t l = 0; l < limit.size(); ++l)
      if (period >= kDensePeriod && !shares[l].empty() && numeric::quantile(std::move(shares[l]), 0.1) > kPlainShare)
        limit[l] = std::max(usual, numeric::upper_median(std::move(left[l])));
    for (LineWindow& w : out.windows) {
      w.spoilt = w.used && w.fit.residual_variance > kMisfit * limit[w.line] + 1e-9;
      if (w.spoilt) w.used = false;
    }
  }

  // The mean over a line's windows, those left out that something else (a base line, dirt, the line's end) spoils.
  void set_amplitudes() {
    std::vector<double> before;
    for (const MeasuredLine& line : out.lines) before.push_back(line.amplitude);
    const double common = numeric::upper_median(std::move(before));
    std::vector<std::vector<double>> like(out.lines.size());
    for (const LineWindow& w : out.windows)
      if (w.used && std::abs(w.fit.amplitude / common - 1.0) < kOwnAmplitude) like[w.line].push_back(w.fit.amplitude);
    std::vector<double> sum(out.lines.size(), 0.0), weight(out.lines.size(), 0.0), usual;
    for (const auto& amplitudes : like)
      usual.push_back(amplitudes.empty() ? common : numeric::upper_median(amplitudes));
    for (const LineWindow& w : out.windows) {
      if (!w.used || std::abs(w.fit.amplitude - usual[w.line]) > kAmplitudeSlack * std::abs(usual[w.line])) continue;
      sum[w.line] += w.fit.amplitude_information * w.fit.amplitude;
      weight[w.line] += w.fit.amplitude_information;
    }
    for (std::size_t l = 0; l < out.lines.size(); ++l)
      if (weight[l] > 0.0) out.lines[l].amplitude = sum[l] / weight[l];
  }

  void reject_other_amplitudes(double usual) {
    for (LineWindow& w : out.windows) {
      if (!w.used) continue;
      const double ratio = w.fit.amplitude / out.lines[w.line].amplitude;
      const double noise =
          std::sqrt(usual / std::max(1e-12, w.fit.amplitude_information)) / std::abs(out.lines[w.line].amplitude);
      if (std::abs(ratio - 1.0) > 0.25 + 4.0 * noise) w.used = false;
    }
  }

  template <class Weight>
  bool reject_far_windows(const std::vector<double>& line_shift, Weight weight_of) {
    std::vector<double> z;
    for (const LineWindow& w : out.windows)
      if (w.used) z.push_back(std::sqrt(weight_of(w)) * std::abs(shift_of(w) - line_shift[w.line]));
    const double sigma = 1.4826 * numeric::upper_median(z);
    bool any = false;
    for (LineWindow& w : out.windows)
      if (w.used &&
          std::sqrt(weight_of(w)) * std::abs(shift_of(w) - line_shift[w.line]) > kWindowOutlier * sigma + 1e-12) {
        w.used = false;
        any = true;
      }
    return any;
  }
};

}  // namespace

double usual_variance(const std::vector<LineWindow>& windows) {
  std::vector<double> variances;
  for (const LineWindow& w : windows)
    if (w.used) variances.push_back(w.fit.residual_variance);
  if (variances.empty()) return 0.0;
  const double best = numeric::quantile(variances, 0.25);
  return std::max(1e-12, std::min(numeric::upper_median(std::move(variances)), kMostOverBest * best));
}

bool fit_jointly(Graduations& result) {
  const double period = result.period;
  JointFit joint{result, period};
  const int across = result.strips.layout.count >= 6 ? 2 : 0;
  const bool many = result.lines.size() >= kManyLines;
  const int along = many ? 3 : result.lines.size() >= 6 ? 2 : 1;
  const auto slopes = many ? SmoothField::Slopes::of_each_height : SmoothField::Slopes::of_the_field;
  SmoothField background(along, across), line_amplitude(along, across);
  bool fields = false, told = false;
  int passes = kFitPasses;
  for (int pass = 0; pass < passes; ++pass) {
    joint.fit_windows(fields ? &background : nullptr, fields ? &line_amplitude : nullptr);
    const double moved = joint.combine();
    if (pass + 1 == passes || (pass >= kLeastPasses && moved < kAtRest)) break;
    if (!fields || period >= kDensePeriod) {
      fields = joint.fit_fields(background, line_amplitude, 1e300, slopes);
      if (!fields) return false;
      joint.tell_light(line_amplitude, along);
    }
    if (period >= kDensePeriod) joint.tell_widths(background, line_amplitude);
    joint.refold(background, line_amplitude);
    if (!told) {
      told = tell_lacking(
          result, [&](const LineWindow& window) { return joint.surroundings(window, background, line_amplitude); });
      if (told && period < kDensePeriod) fields = false, ++passes;  // of windows that reach over their neighbours
    }
    if (pass == 1) joint.leave_out_lopsided_ends();
  }
  joint.tell_doubts(line_amplitude);
  result.scatter = joint.scatter_of_clean(along, across);
  return true;
}

}  // namespace scale
