#include "ruling/spectrum.h"

#include <algorithm>
#include <cmath>

#include <opencv2/core.hpp>

#include <scale/units.h>

namespace scale {

namespace {
constexpr double kLeastPeriod = 2.2;          // bins
constexpr std::size_t kMedianHalfWidth = 24;  // spectral bins
constexpr double kLeastProminence = 3.0;      // over the running median
}  // namespace

Spectrum amplitude_spectrum(const std::vector<float>& series) {
  Spectrum spectrum;
  const int n = static_cast<int>(series.size());
  if (n < 4) return spectrum;
  const int size = cv::getOptimalDFTSize(2 * n + (n & 1)) & ~1;
  cv::Mat padded = cv::Mat::zeros(1, size, CV_32F);
  double window_sum = 0.0;
  float* windowed = padded.ptr<float>();
  for (int i = 0, j = n - 1; i <= j; ++i, --j) {  // the window is the same from either end
    const double window = 0.5 - 0.5 * std::cos(2.0 * kPi * (i + 0.5) / n);
    for (const int place : {i, j}) {
      windowed[place] = static_cast<float>(window * static_cast<double>(series[static_cast<std::size_t>(place)]));
      window_sum += i == j ? 0.5 * window : window;
    }
  }
  cv::Mat packed;
  cv::dft(padded, packed);  // CCS: re0, re1, im1, re2, im2, ..., re(size/2)
  for (auto* values : {&spectrum.frequency, &spectrum.amplitude})
    values->reserve(static_cast<std::size_t>(size / 2) + 1);
  for (int j = 0; j <= size / 2; ++j) {
    const double re = static_cast<double>(j == 0 ? packed.at<float>(0) : packed.at<float>(2 * j - 1));
    const double im = j == 0 || j == size / 2 ? 0.0 : static_cast<double>(packed.at<float>(2 * j));
    spectrum.frequency.push_back(static_cast<double>(j) / size);
    spectrum.amplitude.push_back(2.0 * std::sqrt(re * re + im * im) / window_sum);
  }
  return spectrum;
}

std::vector<double> spectral_periods(const Spectrum& spectrum, std::size_t most) {
  struct Peak {
    double prominence, period;
  };
  std::vector<Peak> peaks;
  const std::vector<double>& a = spectrum.amplitude;
  std::vector<double> near;
  for (std::size_t j = 2; j + 1 < a.size(); ++j) {
    if (spectrum.frequency[j] > 1.0 / kLeastPeriod) break;
    if (a[j] <= a[j - 1] || a[j] < a[j + 1]) continue;
    const std::size_t low = j > kMedianHalfWidth ? j - kMedianHalfWidth : 1,
                      high = std::min(a.size() - 1, j + kMedianHalfWidth);
    // Most maxima fail; counting those that are low enough is quicker than their median.
    const auto lower =
        std::count_if(a.begin() + static_cast<std::ptrdiff_t>(low), a.begin() + static_cast<std::ptrdiff_t>(high),
                      [&](double other) { return kLeastProminence * other <= a[j]; });
    if (static_cast<std::size_t>(lower) <= (high - low) / 2) continue;
    near.assign(a.begin() + static_cast<std::ptrdiff_t>(low), a.begin() + static_cast<std::ptrdiff_t>(high));
    std::nth_element(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(near.size() / 2), near.end());
    const double median = near[near.size() / 2];
    const double curvature = a[j - 1] - 2.0 * a[j] + a[j + 1];
    const double shift = curvature < 0.0 ? 0.5 * (a[j - 1] - a[j + 1]) / curvature : 0.0;
    peaks.push_back({a[j] / std::max(median, 1e-12), 1.0 / ((static_cast<double>(j) + shift) * spectrum.frequency[1])});
  }
  std::stable_sort(peaks.begin(), peaks.end(),
                   [](const Peak& x, const Peak& y) { return x.prominence > y.prominence; });
  if (peaks.size() > most) peaks.resize(most);
  std::vector<double> periods;
  for (const Peak& peak : peaks) periods.push_back(peak.period);
  return periods;
}

}  // namespace scale
