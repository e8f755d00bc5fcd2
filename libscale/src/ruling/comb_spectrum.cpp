#include "ruling/comb_spectrum.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <opencv2/imgproc.hpp>
#include <span>
#include <vector>

#include <scale/units.h>

#include "numeric/robust.h"
#include "ruling/comb_sums.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

using Complex = std::complex<double>;

constexpr int kLongestSide = 1600;     // pixels, of the picture that is transformed
constexpr double kShortest = 3.0;      // pixels of it, of a pitch
constexpr double kFewest = 8.0;        // pitches in its longer side
constexpr double kLeastLight = 0.1;    // of the light: what is darker tells no more by its logarithm
constexpr std::size_t kMostPeaks = 8;  // pieces of two scales and two of their harmonics, each spread over two
constexpr std::size_t kRings = 64;     // of frequencies as long as one another: light and dirt weigh on the short ones
constexpr double kStandsOut = 8.0;     // times the median of its ring: not by accident anywhere in the plane
constexpr int kApart = 3;              // half steps of the spectrum: nearer ones are of one peak of the window
constexpr int kParts = 16;             // of the field along the axis,
constexpr int kTogether = 5;           // so many of them tell whether lines are there
constexpr double kHalf = 0.5;          // of the most: less is beyond the lines
constexpr std::size_t kLeastLines = 5;

struct Peak {
  double fx, fy;  // cycles per pixel
};

// About its mean; the dark round the field is level with it, so that its border is no edge.
cv::Mat logarithm(const Light& light) {
  cv::Mat log;
  cv::log(cv::max(light.share, kLeastLight), log);
  log -= cv::mean(log, light.trust > 0.0);
  log.setTo(0.0, light.trust == 0.0);
  return log;
}

// Hann's, or one that is level but for the outer tenths.
float window(int i, int n, Window kind) {
  const double place = (i + 0.5) / n, ramp = kind == Window::hann ? 0.5 : 0.1;
  const double from_end = std::min(place, 1.0 - place);
  return from_end >= ramp ? 1.0F : static_cast<float>(0.5 - 0.5 * std::cos(kPi * from_end / ramp));
}

void take_window(cv::Mat& samples, Window kind) {
  std::vector<float> row;
  for (int x = 0; x < samples.cols; ++x) row.push_back(window(x, samples.cols, kind));
  for (int y = 0; y < samples.rows; ++y)
    for (int x = 0; x < samples.cols; ++x)
      samples.at<float>(y, x) *= row[static_cast<std::size_t>(x)] * window(y, samples.rows, kind);
}

// Amplitudes at half steps of the spectrum, frequency 0 in the corner.
cv::Mat amplitudes(cv::Mat samples, Window kind) {
  take_window(samples, kind);
  cv::Mat padded =
      cv::Mat::zeros(cv::getOptimalDFTSize(2 * samples.rows), cv::getOptimalDFTSize(2 * samples.cols), CV_32F);
  samples.copyTo(padded(cv::Rect(0, 0, samples.cols, samples.rows)));
  cv::Mat spectrum, planes[2], amplitude;
  cv::dft(padded, spectrum, cv::DFT_COMPLEX_OUTPUT, samples.rows);
  cv::split(spectrum, planes);
  cv::magnitude(planes[0], planes[1], amplitude);
  return amplitude;
}

class Plane {
 public:
  explicit Plane(const cv::Mat& amplitude) : amplitude_(amplitude) {
    std::vector<std::vector<float>> rings(kRings);
    each([&](int x, int y, std::size_t ring) { rings[ring].push_back(static_cast<float>(at(x, y))); });
    for (std::vector<float>& ring : rings)
      usual_.push_back(ring.empty() ? 0.0 : numeric::median_in_place(std::span<float>(ring)));
  }

  // Highest first, of those that stand out, in cycles per pixel.
  std::vector<Peak> peaks(double lowest) const {
    struct Found {
      int x, y;
      double height;
    };
    std::vector<Found> found;
    const int w = amplitude_.cols, h = amplitude_.rows;
    each([&](int x, int y, std::size_t ring) {
      if (at(x, y) < kStandsOut * usual_[ring] || length(x, y) < lowest || !highest(x, y)) return;
      found.push_back({x, y, at(x, y)});
    });
    std::stable_sort(found.begin(), found.end(), [](const Found& a, const Found& b) { return a.height > b.height; });
    std::vector<Found> kept;
    for (const Found& one : found) {
      if (kept.size() == kMostPeaks) break;
      const bool known = std::any_of(kept.begin(), kept.end(), [&](const Found& other) {
        return std::abs(other.x - one.x) < kApart && std::abs(other.y - one.y) < kApart;
      });
      if (!known) kept.push_back(one);
    }
    std::vector<Peak> peaks;
    for (const Found& one : kept)
      peaks.push_back({(one.x + top(at(one.x - 1, one.y), at(one.x, one.y), at(one.x + 1, one.y))) / w,
                       (one.y + top(at(one.x, one.y - 1), at(one.x, one.y), at(one.x, one.y + 1))) / h});
    return peaks;
  }

 private:
  double length(int x, int y) const {
    return std::hypot(static_cast<double>(x) / amplitude_.cols, static_cast<double>(y) / amplitude_.rows);
  }
  // Half of the plane: the other one is the same.
  template <class Visit>
  void each(Visit visit) const {
    const int w = amplitude_.cols, h = amplitude_.rows;
    for (int y = -h / 2 + 1; y < h / 2; ++y)
      for (int x = 0; x < w / 2 - 1; ++x) {
        if (x == 0 && y <= 0) continue;
        const double f = length(x, y) * kShortest;
        if (f < 1.0) visit(x, y, static_cast<std::size_t>(f * kRings));
      }
  }
  double at(int x, int y) const {
    return static_cast<double>(
        amplitude_.at<float>((y + amplitude_.rows) % amplitude_.rows, (x + amplitude_.cols) % amplitude_.cols));
  }
  bool highest(int x, int y) const {
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx)
        if (at(x + dx, y + dy) > at(x, y)) return false;
    return true;
  }
  // Of a parabola through three.
  static double top(double before, double here, double after) {
    const double curvature = before - 2.0 * here + after;
    return curvature < 0.0 ? 0.5 * (before - after) / curvature : 0.0;
  }
  const cv::Mat& amplitude_;
  std::vector<double> usual_;  // of each ring
};

// From where to where: the longest run that is at least half of the most.
std::pair<std::size_t, std::size_t> longest_run(const std::vector<double>& height) {
  const double least = kHalf * *std::max_element(height.begin(), height.end());
  std::pair<std::size_t, std::size_t> best{0, 0};
  for (std::size_t i = 0, run = 0; i < height.size(); ++i) {
    run = height[i] >= least ? run + 1 : 0;
    if (run > best.second - best.first) best = {i + 1 - run, i + 1};
  }
  return best;
}

// What the picture holds of one frequency, in cells along the axis and along the lines.
class Demodulated {
 public:
  Demodulated(const cv::Mat& log, const Peak& peak)
      : direction_(folded(std::atan2(peak.fy, peak.fx))), frequency_(std::hypot(peak.fx, peak.fy)) {
    const double c = std::cos(direction_), s = std::sin(direction_), w = log.cols - 1, h = log.rows - 1;
    t_low_ = std::min({0.0, w * c, h * s, w * c + h * s}), v_low_ = std::min({0.0, h * c, -w * s, h * c - w * s});
    const double t_high = std::max({0.0, w * c, h * s, w * c + h * s}),
                 v_high = std::max({0.0, h * c, -w * s, h * c - w * s});
    part_ = (t_high - t_low_ + 1.0) / kParts;
    rows_ = static_cast<std::size_t>((v_high - v_low_) / kBlockHeight) + 1;
    cells_.assign(rows_ * kParts, Complex());
    const Complex turn = std::polar(1.0, -2.0 * kPi * frequency_ * c);
    for (int y = 0; y < log.rows; ++y) {
      Complex wave = std::polar(1.0, -2.0 * kPi * frequency_ * y * s);
      for (int x = 0; x < log.cols; ++x, wave *= turn)
        cell(x * c + y * s, y * c - x * s) += wave * static_cast<double>(log.at<float>(y, x));
    }
  }

  CombStart start(bool dark) const {
    std::vector<double> along_lines, along_axis;
    for (std::size_t r = 0; r < rows_; ++r) along_lines.push_back(std::abs(sum(r, r + 1, 0, kParts)));
    const auto [from, to] = longest_run(along_lines);
    for (std::size_t p = 0; p < kParts; ++p) {
      const std::size_t first = p < kTogether / 2 ? 0 : p - kTogether / 2;
      along_axis.push_back(std::abs(sum(from, to, first, std::min<std::size_t>(kParts, p + kTogether / 2 + 1))));
    }
    const auto [begin, end] = longest_run(along_axis);
    CombStart start;
    start.direction = direction_;
    start.v_low = v_low_ + static_cast<double>(from) * kBlockHeight;
    start.v_high = v_low_ + static_cast<double>(to) * kBlockHeight;
    const double phase = (dark ? kPi : 0.0) - std::arg(sum(from, to, begin, end)), origin = phase / (2.0 * kPi);
    const double t_first = t_low_ + static_cast<double>(begin) * part_,
                 t_last = t_low_ + static_cast<double>(end) * part_;
    for (double n = std::ceil(t_first * frequency_ - origin); (n + origin) / frequency_ <= t_last; n += 1.0) {
      start.index.push_back(static_cast<int>(start.index.size()));
      start.t.push_back((n + origin) / frequency_);
    }
    return start;
  }

 private:
  Complex& cell(double t, double v) {
    const auto part = std::min<std::size_t>(kParts - 1, static_cast<std::size_t>(std::max(0.0, (t - t_low_) / part_)));
    const auto row = std::min(rows_ - 1, static_cast<std::size_t>(std::max(0.0, (v - v_low_) / kBlockHeight)));
    return cells_[row * kParts + part];
  }
  Complex sum(std::size_t row, std::size_t row_end, std::size_t part, std::size_t part_end) const {
    Complex total;
    for (std::size_t r = row; r < row_end; ++r)
      for (std::size_t p = part; p < part_end; ++p) total += cells_[r * kParts + p];
    return total;
  }
  double direction_, frequency_;
  double t_low_ = 0.0, v_low_ = 0.0, part_ = 1.0;
  std::size_t rows_ = 0;
  std::vector<Complex> cells_;
};

}  // namespace

std::vector<CombStart> starts_by_spectrum(const Light& light, bool dark, Window kind) {
  const cv::Mat log = logarithm(light);
  const int longest = std::max(log.cols, log.rows), by = (longest + kLongestSide - 1) / kLongestSide;
  cv::Mat small;
  cv::resize(log, small, cv::Size(log.cols / by, log.rows / by), 0.0, 0.0, cv::INTER_AREA);
  const double across = static_cast<double>(log.cols) / small.cols, down = static_cast<double>(log.rows) / small.rows;
  const double lowest = kFewest / std::max(small.cols, small.rows);
  const cv::Mat amplitude = amplitudes(std::move(small), kind);
  std::vector<CombStart> starts;
  for (const Peak& peak : Plane(amplitude).peaks(lowest)) {
    CombStart start = Demodulated(log, {peak.fx / across, peak.fy / down}).start(dark);
    if (start.index.size() >= kLeastLines) starts.push_back(std::move(start));
  }
  return starts;
}

}  // namespace scale
