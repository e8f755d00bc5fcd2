#include "ruling/line_shape.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <utility>

#include <oneapi/tbb/parallel_for.h>
#include <Eigen/Dense>

namespace scale {

namespace {

constexpr double kLeastCover = 0.8;  // of a window's bins that must hold pixels
constexpr float kEmpty = 0.5F;       // pixels in a bin
constexpr std::size_t kAtOnce = 64;  // samples
constexpr double kBesideBlurs = 1.5;
constexpr double kLeastBeside = 0.9;  // bins beyond the line on either side
constexpr double kCellsPerBin = 16.0;
constexpr std::size_t kFoldBlock = 128;   // windows
constexpr int kMostCentreSamples = 1600;  // of a period, to find where its symmetry lies
constexpr double kFlat = 0.1;             // of the line's height: how far ground and extremum go
constexpr double kLeastFlat = 100.0;      // samples that tell a variance
constexpr double kMostRise = 4.0;
constexpr double kFoldMargin = 0.375;  // bins beyond the reach, for the smoothing

// The first and the last bin that may hold samples within +-reach of `centre`.
std::pair<int, int> bins_about(const Strips& strips, double centre, double reach) {
  return {std::max(0, static_cast<int>(std::ceil(centre - reach - 0.5)) - strips.first),
          std::min(strips.bins - 1, static_cast<int>(std::floor(centre + reach + 0.5)) - strips.first)};
}

// How many of the bins [from, to] hold pixels of any phase.
int filled_bins(const Strips& strips, int strip, int from, int to) {
  int filled = 0;
  const float* count = strips.count.data() + strips.at(strip, 0);
  for (int bin = from; bin <= to; ++bin) {
    float most = 0.0F;
    for (int phase = 0; phase < strips.layout.phases; ++phase)
      most = std::max(most, count[static_cast<std::ptrdiff_t>(phase) * strips.bins + bin]);
    filled += most > kEmpty;
  }
  return filled;
}

// Some samples of a window: where they lie from its centre, their grey values, and of how many pixels each.
struct Samples {
  std::array<double, kAtOnce> t, value, pixels;
  std::size_t count = 0;
};

// Calls use(samples) for all samples of one strip within +-window of centre, some at a time; returns the share of full
// bins. Gathered first, they leave nothing to decide between one and the next.
template <class Use>
double for_samples(const Strips& strips, int strip, double centre, double window, Use use) {
  const auto [from, to] = bins_about(strips, centre, window);
  Samples samples;
  for (int phase = 0; phase < strips.layout.phases; ++phase) {
    const std::size_t row = strips.at(strip, phase);
    const float *mean = &strips.mean[row], *remainder = &strips.remainder[row], *count = &strips.count[row];
    for (int block = from; block <= to; block += static_cast<int>(kAtOnce)) {
      const int end = std::min(to + 1, block + static_cast<int>(kAtOnce));
      std::size_t n = 0;
      for (int bin = block; bin < end; ++bin) {
        const double t = strips.first + bin + static_cast<double>(remainder[bin]) - centre;
        samples.t[n] = t;
        samples.value[n] = static_cast<double>(mean[bin]);
        samples.pixels[n] = static_cast<double>(count[bin]);
        n += static_cast<std::size_t>(count[bin] > kEmpty) & static_cast<std::size_t>(std::abs(t) <= window);
      }
      samples.count = n;
      if (n > 0) use(samples);
    }
  }
  return filled_bins(strips, strip, from, to) / (2.0 * window);
}

// The same, use(t, value, pixels) for one after the other.
template <class Use>
double for_window(const Strips& strips, int strip, double centre, double window, Use use) {
  return for_samples(strips, strip, centre, window, [&](const Samples& samples) {
    for (std::size_t i = 0; i < samples.count; ++i) use(samples.t[i], samples.value[i], samples.pixels[i]);
  });
}

void add(const FoldCell& more, FoldCell& sums) {
  sums.t += more.t;
  sums.value += more.value;
  sums.weight += more.weight;
}

double interpolate_periodic(const LineShape& shape, double period, double t) {
  t -= period * std::round(t / period);
  return shape.at(std::clamp(t, -shape.reach, shape.reach)).value;
}

// The centre of symmetry: where the autoconvolution of the periodic shape is largest.
double symmetry_centre(const LineShape& shape, double period) {
  const int n = std::clamp(static_cast<int>(std::lround(period / LineShape::step)), 16, kMostCentreSamples);
  std::vector<double> p(static_cast<std::size_t>(n));
  for (int i = 0; i < n; ++i)
    p[static_cast<std::size_t>(i)] = interpolate_periodic(shape, period, (i + 0.5) * period / n - 0.5 * period);
  std::vector<double> sorted = p;
  std::sort(sorted.begin(), sorted.end());
  const double median = sorted[static_cast<std::size_t>(n / 2)];
  double mean = 0.0;
  for (const double v : p) mean += v / n;
  std::vector<double> power(static_cast<std::size_t>(n), 0.0);
  for (int c = 0; c < n; ++c)
    for (int i = 0; i < n; ++i)
      power[static_cast<std::size_t>(c)] +=
          (p[static_cast<std::size_t>(i)] - mean) * (p[static_cast<std::size_t>(((c - i) % n + n) % n)] - mean);
  const int best = static_cast<int>(std::max_element(power.begin(), power.end()) - power.begin());
  // Index sum `best` reflects about best/2 and about best/2 + n/2.
  const double y0 = power[static_cast<std::size_t>((best + n - 1) % n)], y1 = power[static_cast<std::size_t>(best)],
               y2 = power[static_cast<std::size_t>((best + 1) % n)];
  const double curvature = y0 - 2.0 * y1 + y2;
  const double sum = best + (curvature < 0.0 ? 0.5 * (y0 - y2) / curvature : 0.0);
  const double first = (0.5 * sum + 0.5) * period / n - 0.5 * period, second = first + 0.5 * period;
  // Of both, the one that the marks (a line, a pair of lines, a line and its bright flank) lie closer around.
  const auto spread = [&](double c) {
    double moment = 0.0;
    for (int i = 0; i < n; ++i) {
      const double d = (i + 0.5) * period / n - 0.5 * period - c;
      moment += std::abs(p[static_cast<std::size_t>(i)] - median) * std::pow(d - period * std::round(d / period), 2);
    }
    return moment;
  };
  const double centre = spread(first) <= spread(second) ? first : second;
  return centre - period * std::round(centre / period);
}

}  // namespace

double Lacking::added(double t, const LineShape& shape) const {
  if (shape.lone.empty()) return 0.0;
  double sum = 0.0;
  for (std::size_t k = 0; k < std::size(kPlaces); ++k) {
    const double from = t - kPlaces[k] * shape.period;
    if ((places >> k & 1U) == 0 || std::abs(from) >= shape.lone_reach) continue;
    sum += LineShape::between(shape.lone, (from + shape.lone_reach) / LineShape::step);
  }
  return height * sum;
}

void differentiate(LineShape& shape) {
  const std::size_t n = shape.value.size();
  shape.slope.assign(n, 0.0);
  for (std::size_t i = 1; i + 1 < n; ++i)
    shape.slope[i] = (shape.value[i + 1] - shape.value[i - 1]) / (2.0 * LineShape::step);
  shape.slope[0] = shape.slope[1];
  shape.slope[n - 1] = shape.slope[n - 2];
}

// Sums of products with w, of 1, the shape s, its slope d and the picture y; two samples at a time, each on its side of
// the processor's registers.
struct WindowSums {
  using Pair = Eigen::Array2d;
  Pair n = Pair::Zero(), sn = n, dn = n, ss = n, sd = n, dd = n, yn = n, ys = n, yd = n, squares = n;

  void add(const Pair& s, const Pair& d, const Pair& y, const Pair& w) {
    const Pair ws = w * s, wd = w * d, wy = w * y;
    n += w, sn += ws, dn += wd;
    ss += ws * s, sd += ws * d, dd += wd * d;
    yn += wy, ys += wy * s, yd += wy * d;
    squares += wy * y;
  }
};

std::optional<WindowFit> fit_window(const Strips& strips, int strip, double centre, const LineShape& shape,
                                    Surroundings around) {
  using Pair = WindowSums::Pair;
  WindowSums sums;
  Pair pixels = Pair::Zero();
  std::size_t count = 0;
  const double cover = for_samples(strips, strip, centre, shape.window, [&](Samples& samples) {
    count += samples.count;
    if (samples.count % 2 != 0)  // one more to the pair, of no weight
      samples.t[samples.count] = samples.value[samples.count] = samples.pixels[samples.count] = 0.0;
    for (std::size_t i = 0; i < samples.count; i += 2) {
      const Pair t(samples.t[i], samples.t[i + 1]);
      const LineShape::Sample first = shape.at(t(0)), second = shape.at(t(1));
      const Pair s(first.value, second.value), d(-first.slope, -second.slope);
      Pair y(samples.value[i], samples.value[i + 1]), w(samples.pixels[i], samples.pixels[i + 1]);
      pixels += w;
      if (shape.rise != 0.0) w *= Pair(shape.weight(first.value), shape.weight(second.value));
      if (around.lacking.places != 0) y += Pair(around.lacking.at(t(0), shape), around.lacking.at(t(1), shape));
      sums.add(s, d, y - t * (around.background + around.amplitude * s), w);
    }
  });
  if (cover < kLeastCover || count < 4) return std::nullopt;
  const double n = sums.n.sum(), sn = sums.sn.sum(), dn = sums.dn.sum(), sd = sums.sd.sum(), yn = sums.yn.sum(),
               squares = sums.squares.sum(), information = sums.dd.sum();
  Eigen::Matrix3d normal;
  normal << n, sn, dn, sn, sums.ss.sum(), sd, dn, sd, information;
  const Eigen::Vector3d right(yn, sums.ys.sum(), sums.yd.sum());
  const double spread = normal(1, 1) - normal(0, 1) * normal(0, 1) / normal(0, 0);
  if (!(spread > 1e-9 * n) || !(information > 1e-12 * n)) return std::nullopt;
  const Eigen::Vector3d solution = normal.inverse() * right;  // in closed form: three by three
  WindowFit fit;
  fit.background = solution(0);
  fit.amplitude = solution(1);
  fit.shift = std::abs(solution(1)) > 1e-9 ? solution(2) / solution(1) : 0.0;
  fit.shift_information = information;
  fit.amplitude_information = spread;
  fit.pixels = pixels.sum();
  const double total = squares - yn * yn / n;
  const double left = std::max(0.0, squares - solution.dot(right));
  fit.residual_variance = left / std::max(1.0, static_cast<double>(count) - 3.0);
  fit.share = total > 0.0 ? 1.0 - left / total : 0.0;
  return fit;
}

std::optional<double> ground_step(const Strips& strips, int strip, double centre, const LineShape& shape,
                                  const WindowFit& fit, Lacking lacking) {
  const double beyond = 0.5 * shape.width + kBesideBlurs * shape.blur;
  std::array<double, 2> sum{}, weight{};
  for_window(strips, strip, centre, shape.window, [&](double t, double y, double w) {
    if (std::abs(t) < beyond) return;
    const LineShape::Sample s = shape.at(t);
    const std::size_t side = t > 0.0 ? 1 : 0;
    sum[side] += w * (y + lacking.at(t, shape) - fit.background - fit.amplitude * (s.value - fit.shift * s.slope));
    weight[side] += w;
  });
  const double rows = strips.layout.height;
  if (weight[0] < kLeastBeside * rows || weight[1] < kLeastBeside * rows) return std::nullopt;
  return sum[1] / weight[1] - sum[0] / weight[0];
}

void FlatResidual::add(const Strips& strips, int strip, double centre, const LineShape& shape, const WindowFit& fit,
                       Surroundings around) {
  for_window(strips, strip, centre, shape.window, [&](double t, double y, double w) {
    const LineShape::Sample s = shape.at(t);
    const bool low = std::abs(s.value) < kFlat;
    if (!low && s.value < 1.0 - kFlat) return;
    const double left = y + around.lacking.at(t, shape) - fit.background - around.background * t -
                        (fit.amplitude + around.amplitude * t) * s.value + fit.amplitude * fit.shift * s.slope;
    (low ? ground : top) += w * left * left;
    (low ? ground_samples : top_samples) += 1.0;
  });
}

double FlatResidual::rise() const {
  if (std::min(ground_samples, top_samples) < kLeastFlat || !(ground > 0.0)) return 0.0;
  return std::clamp(top / top_samples / (ground / ground_samples) - 1.0, LineShape::kLeastNoise - 1.0, kMostRise);
}

std::optional<WindowFit> fit_shift(const Strips& strips, int strip, double centre, const LineShape& shape,
                                   Surroundings around, double background, double amplitude) {
  double right = 0.0, squares = 0.0, total = 0.0, pixels = 0.0, information = 0.0, spread = 0.0;
  int samples = 0;
  const double cover = for_window(strips, strip, centre, shape.window, [&](double t, double y, double w) {
    const LineShape::Sample s = shape.at(t);
    pixels += w;
    w *= shape.weight(s.value);
    y += around.lacking.at(t, shape);
    const double line = background + around.background * t;
    const double residual = y - line - (amplitude + around.amplitude * t) * s.value;
    information += w * s.slope * s.slope;
    right -= w * residual * s.slope;
    squares += w * residual * residual;
    total += w * (y - line) * (y - line);
    spread += w * s.value * s.value;
    ++samples;
  });
  if (cover < kLeastCover || samples < 2 || !(information > 1e-12 * pixels) || amplitude == 0.0) return std::nullopt;
  WindowFit fit;
  fit.background = background;
  fit.amplitude = amplitude;
  fit.shift = right / (amplitude * information);
  fit.shift_information = information;
  fit.amplitude_information = spread;
  fit.pixels = pixels;
  const double left = std::max(0.0, squares - right * right / information);
  fit.residual_variance = left / std::max(1, samples - 1);
  fit.share = total > 0.0 ? 1.0 - left / total : 0.0;
  return fit;
}

std::optional<double> mean_around(const Strips& strips, int strip, double centre, double reach) {
  const auto [from, to] = bins_about(strips, centre, reach);
  double sum = 0.0, pixels = 0.0;
  for (int phase = 0; phase < strips.layout.phases; ++phase) {
    const std::size_t row = strips.at(strip, phase);
    const float *mean = &strips.mean[row], *remainder = &strips.remainder[row], *count = &strips.count[row];
    for (int bin = from; bin <= to; ++bin) {
      const double t = strips.first + bin + static_cast<double>(remainder[bin]) - centre;
      if (std::abs(t) > reach) continue;  // an empty bin adds nothing
      sum += static_cast<double>(count[bin] * mean[bin]), pixels += static_cast<double>(count[bin]);
    }
  }
  if (pixels <= 0.0) return std::nullopt;
  return sum / pixels;
}

Fold fold_windows(const Strips& strips, const std::vector<FoldWindow>& windows, double reach,
                  const LineShape* previous) {
  const double end = reach + kFoldMargin;
  using Cells = std::vector<FoldCell>;  // sums first
  const Cells none(static_cast<std::size_t>(std::ceil(2.0 * end * kCellsPerBin)) + 1);
  // Blocks of one size, so that the sums do not hang on the number of threads.
  std::vector<Cells> blocks((windows.size() + kFoldBlock - 1) / kFoldBlock, none);
  oneapi::tbb::parallel_for(std::size_t{0}, blocks.size(), [&](std::size_t block) {
    const std::size_t from = block * kFoldBlock, to = std::min(windows.size(), from + kFoldBlock);
    for (std::size_t i = from; i < to; ++i) {
      const FoldWindow& window = windows[i];
      for_window(strips, window.strip, window.centre, end, [&](double t, double y, double w) {
        const double place = window.broader != 0.0 ? narrowed(t, window.broader) : t;
        if (std::abs(place) > end) return;
        y -= window.background + window.around.background * t;
        if (previous != nullptr) {
          y += window.around.lacking.at(t, *previous);
          if (std::abs(place) < previous->reach) y -= window.around.amplitude * t * previous->at(place).value;
        }
        const double weight = w * window.amplitude * window.amplitude;
        add({weight * place, w * window.amplitude * y, weight},
            blocks[block][static_cast<std::size_t>((place + end) * kCellsPerBin)]);
      });
    }
  });
  Cells cells = none;
  for (const Cells& block : blocks)
    for (std::size_t c = 0; c < cells.size(); ++c) add(block[c], cells[c]);
  Fold fold;
  fold.reach = reach;
  for (const FoldCell& cell : cells)
    if (cell.weight > 0.0) fold.cells.push_back({cell.t / cell.weight, cell.value / cell.weight, cell.weight});
  return fold;
}

LineShape smoothed(const Fold& fold, double smoothing) {
  LineShape shape;
  const int half = static_cast<int>(std::ceil(fold.reach / LineShape::step)) + 1;
  shape.reach = half * LineShape::step;
  const std::size_t n = static_cast<std::size_t>(2 * half + 2);  // one more, so that at(reach) has a neighbour
  std::vector<double> sum(n, 0.0), weight(n, 0.0);
  for (const FoldCell& cell : fold.cells) {
    if (std::abs(cell.t) > shape.reach) continue;
    const double position = (cell.t + shape.reach) / LineShape::step;
    const std::size_t i = static_cast<std::size_t>(position);
    const double f = position - static_cast<double>(i);
    sum[i] += (1.0 - f) * cell.weight * cell.value;
    sum[i + 1] += f * cell.weight * cell.value;
    weight[i] += (1.0 - f) * cell.weight;
    weight[i + 1] += f * cell.weight;
  }
  // Normalised convolution; where all windows sample the same fraction of a pixel the bins between stay empty, and a
  // wider kernel bridges them.
  const double largest = *std::max_element(weight.begin(), weight.end());
  shape.value.assign(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    double value = 0.0, total = 0.0;
    for (double sigma = smoothing / LineShape::step; total < 0.02 * largest && sigma < 40.0; sigma *= 1.5) {
      value = total = 0.0;
      const int spread = static_cast<int>(std::ceil(3.0 * sigma));
      for (int k = -spread; k <= spread; ++k) {
        const std::ptrdiff_t j = static_cast<std::ptrdiff_t>(i) + k;
        if (j < 0 || j >= static_cast<std::ptrdiff_t>(n)) continue;
        const double g = std::exp(-0.5 * k * k / (sigma * sigma));
        value += g * sum[static_cast<std::size_t>(j)];
        total += g * weight[static_cast<std::size_t>(j)];
      }
      if (largest <= 0.0) break;
    }
    shape.value[i] = total > 0.0 ? value / total : 0.0;
  }
  differentiate(shape);
  return shape;
}

LineShape fold_shape(const Strips& strips, const std::vector<FoldWindow>& windows, double reach, double smoothing) {
  return smoothed(fold_windows(strips, windows, reach, nullptr), smoothing);
}

LineShape repeated(const LineShape& shape, double period, double periods) {
  LineShape wide = shape;
  wide.window = 0.5 * periods * period;
  const int half = static_cast<int>(std::ceil(wide.window / LineShape::step)) + 1;
  wide.reach = half * LineShape::step;
  wide.value.assign(static_cast<std::size_t>(2 * half + 2), 0.0);
  for (std::size_t i = 0; i < wide.value.size(); ++i)
    wide.value[i] = interpolate_periodic(shape, period, static_cast<double>(i) * LineShape::step - wide.reach);
  differentiate(wide);
  return wide;
}

double normalise_shape(LineShape& shape, double period, bool may_move) {
  const double centre = may_move ? symmetry_centre(shape, period) : 0.0;
  if (centre != 0.0) {
    std::vector<double> moved(shape.value.size());
    for (std::size_t i = 0; i < moved.size(); ++i)
      moved[i] = interpolate_periodic(shape, period, centre + static_cast<double>(i) * LineShape::step - shape.reach);
    shape.value = std::move(moved);
  }
  // The ground is the level at the middle of the space; the top is the strongest departure near the centre.
  const double ground =
      0.5 * (interpolate_periodic(shape, period, 0.48 * period) + interpolate_periodic(shape, period, -0.48 * period));
  double top = 0.0;
  const double near = 0.25 * period;
  for (double t = -near; t <= near; t += LineShape::step)
    if (std::abs(shape.at(t).value - ground) > std::abs(top)) top = shape.at(t).value - ground;
  if (std::abs(top) < 1e-12) top = 1e-12;
  for (double& v : shape.value) v = (v - ground) / top;
  for (double& v : shape.lone) v /= top;
  differentiate(shape);
  // Outermost half-height crossings, so that a pair of lines counts as one mark.
  double left = 0.0, right = 0.0, steepest = 0.0, reach = 0.0;
  for (double t = -0.5 * period + LineShape::step; t < 0.5 * period - LineShape::step; t += LineShape::step) {
    const LineShape::Sample s = shape.at(t);
    if (s.value > 0.5) {
      left = std::min(left, t);
      right = std::max(right, t);
    }
    steepest = std::max(steepest, std::abs(s.slope));
    if (std::abs(s.value) > 0.04) reach = std::max(reach, std::abs(t));
  }
  shape.width = right - left + LineShape::step;
  shape.blur = steepest > 0.0 ? 1.0 / (steepest * std::sqrt(2.0 * 3.14159265358979323846)) : 0.0;
  shape.window = std::min(0.5 * period, reach + 2.0 * shape.blur + 2.0);
  return centre;
}

}  // namespace scale
