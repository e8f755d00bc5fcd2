#include "ruling/graduations.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include <oneapi/tbb/parallel_for.h>
#include <Eigen/Dense>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr double kLeastPeriod = 2.0;     // bins: the sampling limit
constexpr double kDensePeriod = 10.0;    // bins; below it a window holds too few pixels for three unknowns
constexpr double kLeastAmplitude = 0.5;  // of the ruling's own, for a line or a window to count
constexpr double kMostAmplitude = 1.9;
constexpr double kCoreStrength = 0.8;  // of the strongest strip
constexpr double kDensePeriods = 3.0;  // a window of so many periods reads them instead
constexpr int kMissesToStop = 3;       // empty places in a row that end a ruling
constexpr int kFitPasses = 4;
constexpr double kWindowOutlier = 4.5;     // robust standard deviations
constexpr double kBendSignificance = 4.0;  // standard deviations, for a fan or a bow of the lines
constexpr double kSmoothing = 0.3;         // bins, of the folded shape

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

struct Track {
  int index = 0;
  double s = 0.0;
  double amplitude = 0.0;
  double v_low = 0.0, v_high = 0.0;
};

struct StripRange {
  int from = 0, to = 0;
};

StripRange strips_inside(const Strips& strips, double v_low, double v_high) {
  const auto& layout = strips.layout;
  return {std::max(0, static_cast<int>(std::ceil((v_low - layout.v0) / layout.height - 1e-6))),
          std::min(layout.count, static_cast<int>(std::floor((v_high - layout.v0) / layout.height + 1e-6)))};
}

// ---- First shape -----------------------------------------------------------------------------------------

LineShape first_shape(const Strips& strips, StripRange band, double period, std::vector<Track>& tracks) {
  LineShape shape;
  for (int pass = 0; pass < 2; ++pass) {  // the second time around the line's centre instead of its edge
    std::vector<FoldWindow> windows;
    for (const Track& track : tracks)
      for (int k = band.from; k < band.to; ++k)
        windows.push_back({k, track.s, mean_around(strips, k, track.s, 0.5 * period).value_or(0.0), 1.0, {}});
    shape = fold_shape(strips, windows, 0.5 * period, kSmoothing, nullptr);
    const double moved = normalise_shape(shape, period, true);
    for (Track& track : tracks) track.s += moved;
  }
  if (period < kDensePeriod) shape.window = 0.5 * period;
  return shape;
}

LineShape reader_of(const LineShape& shape, double period) {
  return period < kDensePeriod ? repeated(shape, period, kDensePeriods) : shape;
}

// The strips around the strongest one in which most lines are as strong: where all graduations, not only the long
// ones, are. A band of the period search may hold much besides.
StripRange core_of(const Strips& strips, StripRange band, const LineShape& shape, const std::vector<Track>& tracks) {
  std::vector<double> strength;
  for (int k = band.from; k < band.to; ++k) {
    std::vector<double> amplitudes;
    for (const Track& track : tracks) {
      const auto fit = fit_window(strips, k, track.s, shape, {});
      amplitudes.push_back(fit ? fit->amplitude : 0.0);
    }
    strength.push_back(std::abs(numeric::upper_median(std::move(amplitudes))));
  }
  const int top = static_cast<int>(std::max_element(strength.begin(), strength.end()) - strength.begin());
  const double least = kCoreStrength * strength[size_of(top)];
  int from = top, to = top + 1;
  while (from > 0 && strength[size_of(from - 1)] >= least) --from;
  while (size_of(to) < strength.size() && strength[size_of(to)] >= least) ++to;
  return {band.from + from, band.from + to};
}

// ---- Finding lines by dead reckoning -----------------------------------------------------------------------

struct LineReading {
  double amplitude = 0.0, shift = 0.0, share = 0.0;
};

// All strips of the band together at one place.
std::optional<LineReading> read_line(const Strips& strips, StripRange band, double centre, const LineShape& shape) {
  double amplitude = 0.0, weight = 0.0, shift = 0.0, shift_weight = 0.0, share = 0.0;
  int strips_read = 0;
  for (int k = band.from; k < band.to; ++k) {
    const auto fit = fit_window(strips, k, centre, shape, {});
    if (!fit) continue;
    amplitude += fit->amplitude_information * fit->amplitude;
    weight += fit->amplitude_information;
    const double w = fit->amplitude * fit->shift_information;
    shift += w * fit->amplitude * fit->shift;
    shift_weight += w * fit->amplitude;
    share += fit->share;
    ++strips_read;
  }
  if (weight <= 0.0 || shift_weight <= 0.0 || 2 * strips_read < band.to - band.from) return std::nullopt;
  return LineReading{amplitude / weight, shift / shift_weight, share / strips_read};
}

// Newton steps from the best of a few starting places within +-reach.
std::optional<LineReading> seek_line(const Strips& strips, StripRange band, double& centre, double reach, double period,
                                     const LineShape& shape) {
  std::optional<LineReading> best;
  double best_centre = centre;
  const int starts =
      reach > 0.0 ? std::clamp(static_cast<int>(std::ceil(reach / std::max(0.5, 0.5 * shape.blur))), 1, 12) : 0;
  for (int i = -starts; i <= starts; ++i) {
    const double start = centre + (starts > 0 ? reach * i / starts : 0.0);
    const auto reading = read_line(strips, band, start, shape);
    if (reading && (!best || reading->share > best->share)) best = reading, best_centre = start;
  }
  if (!best) return best;
  const double home = centre;
  centre = best_centre;
  for (int step = 0; step < 5; ++step) {
    const auto reading = read_line(strips, band, centre, shape);
    if (!reading) return std::nullopt;
    best = reading;
    const double move = std::clamp(reading->shift, -shape.blur - 0.5, shape.blur + 0.5);
    centre += move;
    if (std::abs(move) < 1e-3) break;
  }
  if (std::abs(centre - home) > reach + std::min(1.0, 0.1 * period)) return std::nullopt;
  return best;
}

// Where index n should be, from the nearest known lines.
double reckon(const std::vector<Track>& tracks, int index, double period) {
  std::vector<const Track*> near;
  for (const Track& track : tracks) near.push_back(&track);
  const std::size_t few = std::min<std::size_t>(8, near.size());
  std::partial_sort(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(few), near.end(),
                    [&](const Track* a, const Track* b) {
                      const int da = std::abs(a->index - index), db = std::abs(b->index - index);
                      return da != db ? da < db : a->index < b->index;
                    });
  double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (std::size_t i = 0; i < few; ++i) {
    const double x = near[i]->index - index, y = near[i]->s;
    n += 1.0, sx += x, sy += y, sxx += x * x, sxy += x * y;
  }
  const double spread = sxx - sx * sx / n;
  const double pitch = few >= 4 && spread > 0.0 ? (sxy - sx * sy / n) / spread : period;
  return (sy - pitch * sx) / n;
}

bool alike(const std::optional<LineReading>& reading, double amplitude) {
  if (!reading) return false;
  const double ratio = reading->amplitude / amplitude;
  return ratio > kLeastAmplitude && ratio < kMostAmplitude;
}

void add_line(std::vector<Track>& tracks, int index, double s, double amplitude) {
  const auto at =
      std::lower_bound(tracks.begin(), tracks.end(), index, [](const Track& t, int i) { return t.index < i; });
  Track track;
  track.index = index;
  track.s = s;
  track.amplitude = amplitude;
  tracks.insert(at, track);
}

void complete_lines(const Strips& strips, StripRange band, double period, const LineShape& shape, double amplitude,
                    std::vector<Track>& tracks) {
  const double reach = std::min(0.15 * period, 4.0 + 0.02 * period);
  const auto try_index = [&](int index) {
    double centre = reckon(tracks, index, period);
    const auto reading = seek_line(strips, band, centre, reach, period, shape);
    if (!alike(reading, amplitude)) return false;
    add_line(tracks, index, centre, reading->amplitude);
    return true;
  };
  for (int index = tracks.front().index + 1; index < tracks.back().index; ++index) {
    const bool known = std::any_of(tracks.begin(), tracks.end(), [&](const Track& t) { return t.index == index; });
    if (!known) try_index(index);
  }
  for (const int direction : {1, -1}) {
    int misses = 0;
    for (int index = (direction > 0 ? tracks.back() : tracks.front()).index + direction; misses < kMissesToStop;
         index += direction) {
      const double where = reckon(tracks, index, period);
      if (where < strips.first || where > strips.first + strips.bins) break;
      misses = try_index(index) ? 0 : misses + 1;
    }
  }
}

// ---- Following lines along their length -----------------------------------------------------------------------

// Walks from strip `start` in steps of `by` while the line keeps its amplitude, going with it where it leans or bows;
// bridges a bad strip or two when two good ones follow. Returns the last good strip, start - by when there is none.
int walk_line(const Strips& strips, const LineShape& shape, double amplitude, double centre, int start, int by) {
  double drift = 0.0;  // of the centre per strip
  int last = start - by, bad = 0, good_again = 0;
  for (int k = start; k >= 0 && k < strips.layout.count && bad < 3; k += by) {
    centre += drift;
    const auto fit = fit_window(strips, k, centre, shape, {});
    const double ratio = fit ? fit->amplitude / amplitude : 0.0;
    const bool good = fit && ratio > kLeastAmplitude && ratio < kMostAmplitude &&
                      std::abs(fit->shift) < 0.25 * shape.width + shape.blur + 0.5;
    if (!good) {
      ++bad;
      good_again = 0;
      continue;
    }
    centre += 0.4 * fit->shift;
    drift += 0.08 * fit->shift;
    if (bad > 0 && ++good_again < 2) continue;
    bad = good_again = 0;
    last = k;
  }
  return last;
}

// v range around the band over which the line keeps its amplitude.
void follow_line(const Strips& strips, StripRange band, const LineShape& shape, double amplitude, Track& track) {
  const int middle = (band.from + band.to) / 2;
  const int up = walk_line(strips, shape, amplitude, track.s, middle, 1);
  const int down = walk_line(strips, shape, amplitude, track.s, std::min(middle, up), -1);
  if (up < middle || down > middle) {
    track.v_low = track.v_high = 0.0;
    return;
  }
  track.v_low = strips.layout.v0 + down * strips.layout.height;
  track.v_high = strips.layout.v0 + (up + 1) * strips.layout.height;
}

// ---- The joint fit -----------------------------------------------------------------------------------------

// Robust polynomial over index and v, for background and amplitude of the windows.
class SmoothField {
 public:
  SmoothField(int degree_along, int degree_across) : along_(degree_along), across_(degree_across) {}

  void fit(const std::vector<Eigen::Vector3d>& samples) {  // z1, z2, value
    const Eigen::Index terms = count(), n = static_cast<Eigen::Index>(samples.size());
    Eigen::MatrixXd design(n, terms);
    Eigen::VectorXd observed(n), weight = Eigen::VectorXd::Ones(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      design.row(i) = row(samples[static_cast<std::size_t>(i)](0), samples[static_cast<std::size_t>(i)](1)).transpose();
      observed(i) = samples[static_cast<std::size_t>(i)](2);
    }
    for (int pass = 0; pass < 5; ++pass) {
      const Eigen::MatrixXd normal = design.transpose() * weight.asDiagonal() * design;
      coefficients_ = (normal + 1e-9 * normal.trace() * Eigen::MatrixXd::Identity(terms, terms))
                          .ldlt()
                          .solve(design.transpose() * weight.asDiagonal() * observed);
      const Eigen::VectorXd residual = observed - design * coefficients_;
      std::vector<double> magnitude(static_cast<std::size_t>(n));
      for (Eigen::Index i = 0; i < n; ++i) magnitude[static_cast<std::size_t>(i)] = std::abs(residual(i));
      scale_ = 1.4826 * numeric::upper_median(magnitude);
      if (scale_ <= 0.0) break;
      for (Eigen::Index i = 0; i < n; ++i) weight(i) = 1.0 / std::max(1.0, std::abs(residual(i)) / (2.0 * scale_));
    }
  }
  double value(double z1, double z2) const { return row(z1, z2).dot(coefficients_); }
  double slope_along(double z1, double z2) const {
    constexpr double h = 1e-4;
    return (value(z1 + h, z2) - value(z1 - h, z2)) / (2.0 * h);
  }
  double scatter() const { return scale_; }

 private:
  Eigen::Index count() const {
    Eigen::Index n = 0;
    for (int i = 0; i <= along_; ++i)
      for (int j = 0; j <= across_; ++j) n += i + j <= std::max(along_, across_);
    return n;
  }
  Eigen::VectorXd row(double z1, double z2) const {
    Eigen::VectorXd r(count());
    Eigen::Index n = 0;
    for (int i = 0; i <= along_; ++i)
      for (int j = 0; j <= across_; ++j)
        if (i + j <= std::max(along_, across_)) r(n++) = std::pow(z1, i) * std::pow(z2, j);
    return r;
  }
  int along_, across_;
  Eigen::VectorXd coefficients_;
  double scale_ = 0.0;
};

struct JointFit {
  Graduations& out;
  double period;

  double centre(std::size_t line, int strip) const { return out.centre(line, strip); }
  double z_line(std::size_t line) const { return out.z_of(line); }
  double z_strip(int strip) const {
    return out.strips.layout.count > 1 ? 2.0 * strip / (out.strips.layout.count - 1.0) - 1.0 : 0.0;
  }

  void fit_windows(const SmoothField* background, const SmoothField* amplitude) {
    const double half_span = std::max(1.0, 0.5 * (out.lines.back().s - out.lines.front().s));
    const bool dense = period < kDensePeriod;
    const LineShape reader = reader_of(out.shape, period);
    oneapi::tbb::parallel_for(std::size_t{0}, out.windows.size(), [&](std::size_t i) {
      LineWindow& window = out.windows[i];
      Slopes slopes;
      const double z1 = z_line(window.line), z2 = z_strip(window.strip);
      if (background != nullptr) {
        slopes.background = background->slope_along(z1, z2) / half_span;
        slopes.amplitude = amplitude->slope_along(z1, z2) / half_span;
      }
      const double where = centre(window.line, window.strip);
      const auto fit = dense && background != nullptr
                           ? fit_shift(out.strips, window.strip, where, out.shape, slopes, background->value(z1, z2),
                                       amplitude->value(z1, z2))
                           : fit_window(out.strips, window.strip, where, dense ? reader : out.shape, slopes);
      window.used = fit.has_value();
      if (fit) window.fit = *fit;
    });
  }

  void refold(const SmoothField* background, const SmoothField* amplitude) {
    const double half_span = std::max(1.0, 0.5 * (out.lines.back().s - out.lines.front().s));
    std::vector<FoldWindow> windows;
    for (const LineWindow& window : out.windows) {
      if (!window.used) continue;
      FoldWindow fold{window.strip, centre(window.line, window.strip), window.fit.background, window.fit.amplitude, {}};
      if (background != nullptr) {
        const double z1 = z_line(window.line), z2 = z_strip(window.strip);
        fold.slopes = {background->slope_along(z1, z2) / half_span, amplitude->slope_along(z1, z2) / half_span};
      }
      windows.push_back(fold);
    }
    const double smoothing = std::max(kSmoothing, 0.35 * out.shape.blur);
    const double window = out.shape.window;
    LineShape next = fold_shape(out.strips, windows, 0.5 * period, smoothing, &out.shape);
    normalise_shape(next, period, false);
    next.window = window;
    out.shape = std::move(next);
  }

  // Means over each line's windows, outliers left out, then the common lean from what is left within the lines.
  void combine() {
    std::vector<double> line_shift(out.lines.size(), 0.0), line_weight(out.lines.size(), 0.0);
    const auto weight_of = [&](const LineWindow& w) {
      const double a = out.lines[w.line].amplitude;
      return a * a * w.fit.shift_information;
    };
    set_amplitudes();
    reject_misfits();
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
    for (std::size_t l = 0; l < out.lines.size(); ++l) {
      out.lines[l].s += line_shift[l] - within.step.dot(within.mean.col(static_cast<Eigen::Index>(l)));
      out.lines[l].weight = line_weight[l];
      out.lines[l].windows = 0;
    }
    for (const LineWindow& w : out.windows) out.lines[w.line].windows += w.used;
    out.bend.lean += within.step(0);
    out.bend.fan += within.step(1);
    out.bend.bow += within.step(2);
    out.bend.bow_fan += within.step(3);
  }

  // Least squares of what is left within the lines on v, z v, v^2 and z v^2; terms beyond the first are kept when they
  // stand out of the noise.
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
    // From terms in v / half to terms in v.
    const Eigen::Vector4d unit(half, half, half * half, half * half);
    within.step = within.step.cwiseQuotient(unit);
    for (Eigen::Index l = 0; l < within.mean.cols(); ++l) within.mean.col(l) = within.mean.col(l).cwiseProduct(unit);
    return within;
  }

  // The window's own amplitude where it is sure of it, else the line's.
  double shift_of(const LineWindow& w) const { return w.fit.shift * w.fit.amplitude / out.lines[w.line].amplitude; }

  void set_amplitudes() {
    std::vector<double> sum(out.lines.size(), 0.0), weight(out.lines.size(), 0.0);
    for (const LineWindow& w : out.windows)
      if (w.used) {
        sum[w.line] += w.fit.amplitude_information * w.fit.amplitude;
        weight[w.line] += w.fit.amplitude_information;
      }
    for (std::size_t l = 0; l < out.lines.size(); ++l)
      if (weight[l] > 0.0) out.lines[l].amplitude = sum[l] / weight[l];
  }

  void reject_misfits() {
    std::vector<double> variances;
    for (const LineWindow& w : out.windows)
      if (w.used) variances.push_back(w.fit.residual_variance);
    const double usual = numeric::upper_median(variances);
    for (LineWindow& w : out.windows) {
      if (!w.used) continue;
      const double ratio = w.fit.amplitude / out.lines[w.line].amplitude;
      const double noise = std::sqrt(std::max(usual, 1e-12) / std::max(1e-12, w.fit.amplitude_information)) /
                           std::abs(out.lines[w.line].amplitude);
      const double slack = 0.25 + 4.0 * noise;
      if (w.fit.residual_variance > 6.0 * usual + 1e-9 || std::abs(ratio - 1.0) > slack) w.used = false;
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

Strips final_strips(const ImageView& image, double angle, const std::vector<Track>& tracks, double height_for_noise) {
  double low = tracks.front().v_low, high = tracks.front().v_high;
  std::vector<double> lengths;
  for (const Track& track : tracks) {
    low = std::min(low, track.v_low);
    high = std::max(high, track.v_high);
    lengths.push_back(track.v_high - track.v_low);
  }
  std::sort(lengths.begin(), lengths.end());
  const double shortest = lengths[lengths.size() / 4];
  StripLayout layout;
  layout.angle = angle;
  layout.phases = 4;
  layout.v0 = low;
  const double wanted = std::clamp(std::max(shortest / 12.0, height_for_noise), 2.0, std::max(2.0, shortest / 3.0));
  layout.count = std::clamp(static_cast<int>(std::lround((high - low) / wanted)), 1, 96);
  layout.height = (high - low) / layout.count;
  return sum_strips(image, layout);
}

// Strips must be at least so high that a window knows its amplitude to a fifth.
double height_for(const Strips& strips, StripRange band, const LineShape& shape, double amplitude, double noise,
                  const std::vector<Track>& tracks) {
  const auto fit = fit_window(strips, (band.from + band.to) / 2, tracks[tracks.size() / 2].s, shape, {});
  if (!fit || fit->amplitude_information <= 0.0) return 2.0;
  return 25.0 * noise * noise / (amplitude * amplitude * fit->amplitude_information / strips.layout.height);
}

}  // namespace

Graduations measure_graduations(const ImageView& image, const Hypothesis& hypothesis, double noise) {
  Graduations result;
  const double period = hypothesis.lattice.pitch;
  // A lattice that ran away (lines of a steadily changing spacing can make one) is no hypothesis.
  if (!(period >= kLeastPeriod && period <= image.width + image.height)) return result;
  const AlongRange range = along_range(image, hypothesis.angle);
  const Strips strips = strips_over(
      image, hypothesis.angle,
      std::clamp(std::min((range.high - range.low) / 128.0, (hypothesis.v_high - hypothesis.v_low) / 4.0), 3.0, 16.0),
      range);
  StripRange band = strips_inside(strips, hypothesis.v_low, hypothesis.v_high);
  if (band.to <= band.from) {
    const int middle =
        static_cast<int>((0.5 * (hypothesis.v_low + hypothesis.v_high) - strips.layout.v0) / strips.layout.height);
    band = {std::clamp(middle, 0, strips.layout.count - 1), std::clamp(middle, 0, strips.layout.count - 1) + 1};
  }
  std::vector<Track> tracks;
  for (std::size_t i = 0; i < hypothesis.lattice.index.size(); ++i) {
    Track track;
    track.index = hypothesis.lattice.index[i];
    track.s = hypothesis.lattice.position[i];
    tracks.push_back(track);
  }
  LineShape shape = first_shape(strips, band, period, tracks);
  band = core_of(strips, band, reader_of(shape, period), tracks);
  shape = first_shape(strips, band, period, tracks);
  const LineShape follower = reader_of(shape, period);
  std::vector<double> amplitudes;
  std::vector<Track> kept;
  for (Track& track : tracks) {
    const auto reading = seek_line(strips, band, track.s, 0.1 * period, period, follower);
    if (!reading) continue;
    track.amplitude = reading->amplitude;
    amplitudes.push_back(reading->amplitude);
    kept.push_back(track);
  }
  tracks = std::move(kept);
  const double amplitude = numeric::upper_median(amplitudes);
  std::erase_if(tracks, [&](const Track& t) { return !alike(LineReading{t.amplitude, 0.0, 0.0}, amplitude); });
  if (tracks.size() < 3 || std::abs(amplitude) < 1e-6) return result;
  complete_lines(strips, band, period, follower, amplitude, tracks);
  oneapi::tbb::parallel_for(std::size_t{0}, tracks.size(),
                            [&](std::size_t i) { follow_line(strips, band, follower, amplitude, tracks[i]); });
  std::erase_if(tracks, [](const Track& t) { return t.v_high <= t.v_low; });
  if (tracks.size() < 3) return result;

  result.angle = hypothesis.angle;
  result.period = period;
  result.strips =
      final_strips(image, hypothesis.angle, tracks, height_for(strips, band, shape, amplitude, noise, tracks));
  result.shape = std::move(shape);
  const int first_index = tracks.front().index;
  for (const Track& track : tracks) {
    MeasuredLine line;
    line.index = track.index - first_index;
    line.s = track.s;
    line.v_low = track.v_low;
    line.v_high = track.v_high;
    line.amplitude = track.amplitude;
    const StripRange inside = strips_inside(result.strips, track.v_low, track.v_high);
    for (int k = inside.from; k < inside.to; ++k) result.windows.push_back({result.lines.size(), k, {}, true});
    result.lines.push_back(line);
  }
  result.v_reference = 0.0;  // on the line through the middle of what is in view
  for (const Track& track : tracks)
    result.v_reference += 0.5 * (track.v_low + track.v_high) / static_cast<double>(tracks.size());

  JointFit joint{result, period};
  const int across = result.strips.layout.count >= 6 ? 2 : 0;
  const int along = result.lines.size() >= 12 ? 3 : result.lines.size() >= 6 ? 2 : 1;
  SmoothField background(along, across), line_amplitude(along, across);
  bool fields = false;
  for (int pass = 0; pass < kFitPasses; ++pass) {
    joint.fit_windows(fields ? &background : nullptr, fields ? &line_amplitude : nullptr);
    joint.combine();
    if (pass + 1 == kFitPasses) break;
    if (!fields || period >= kDensePeriod) {
      std::vector<Eigen::Vector3d> grounds, heights;
      for (const LineWindow& w : result.windows) {
        if (!w.used) continue;
        grounds.emplace_back(joint.z_line(w.line), joint.z_strip(w.strip), w.fit.background);
        heights.emplace_back(joint.z_line(w.line), joint.z_strip(w.strip), w.fit.amplitude);
      }
      if (grounds.size() < 12) {
        result.lines.clear();
        return result;
      }
      background.fit(grounds);
      line_amplitude.fit(heights);
      fields = true;
    }
    joint.refold(&background, &line_amplitude);
  }
  result.scatter = {background.scatter(), line_amplitude.scatter()};
  const double turn = -std::atan(result.bend.lean * std::cos(result.angle));
  for (MeasuredLine& line : result.lines) {
    const double t = line.s * std::cos(result.angle);
    line.x = t * std::cos(result.angle) - result.v_reference * std::sin(result.angle);
    line.y = t * std::sin(result.angle) + result.v_reference * std::cos(result.angle);
    line.sigma = line.weight > 0.0 ? result.window_sigma / std::sqrt(line.weight) * std::cos(result.angle) : 0.0;
  }
  result.angle += turn;
  return result;
}

}  // namespace scale
