#include "ruling/spectral_direction.h"

#include <algorithm>
#include <cmath>

#include <opencv2/core.hpp>

#include <oneapi/tbb/parallel_for.h>
#include <scale/units.h>

#include "image/frame.h"
#include "numeric/robust.h"
#include "ruling/working_view.h"

namespace scale {

namespace {

constexpr int kLargestPart = 512, kLeastPart = 128;  // pixels
constexpr int kLowest = 8;                           // periods in a part
constexpr int kRing = 4;                             // frequencies as long as one another, to so many steps
constexpr double kStandsOut = 40.0;                  // times the median: not by accident in any of the 130 000 bins
constexpr std::size_t kMostDirections = 3;
constexpr double kSameDirection = 3.0;  // degrees

struct Peak {
  double angle, height;
};

int part_size(const ImageView& image) {
  int size = kLargestPart;
  while (size > std::min(image.width, image.height)) size /= 2;
  return size;
}

// The middle, and where there is room the middles of the quarters.
std::vector<cv::Rect> parts_of(const ImageView& image, int size) {
  const auto part = [&](double x, double y) {
    return cv::Rect(std::clamp(static_cast<int>(x * image.width) - size / 2, 0, image.width - size),
                    std::clamp(static_cast<int>(y * image.height) - size / 2, 0, image.height - size), size, size);
  };
  std::vector<cv::Rect> parts{part(0.5, 0.5)};
  if (2 * std::min(image.width, image.height) < 3 * size) return parts;
  for (const double x : {0.25, 0.75})
    for (const double y : {0.25, 0.75}) parts.push_back(part(x, y));
  return parts;
}

// Power of one part; frequency 0 in the corner.
cv::Mat power_of(const cv::Mat& samples) {
  const int n = samples.rows;
  cv::Mat part;
  samples.convertTo(part, CV_32F);
  part -= cv::mean(part);
  std::vector<float> hann;
  for (int i = 0; i < n; ++i) hann.push_back(static_cast<float>(0.5 - 0.5 * std::cos(2.0 * kPi * (i + 0.5) / n)));
  for (int y = 0; y < n; ++y)
    for (int x = 0; x < n; ++x)
      part.at<float>(y, x) *= hann[static_cast<std::size_t>(x)] * hann[static_cast<std::size_t>(y)];
  cv::Mat spectrum, planes[2], power;
  cv::dft(part, spectrum, cv::DFT_COMPLEX_OUTPUT);
  cv::split(spectrum, planes);
  cv::magnitude(planes[0], planes[1], power);
  return power.mul(power);
}

cv::Mat mean_power(const ImageView& image, int size) {
  const std::vector<cv::Rect> parts = parts_of(image, size);
  std::vector<cv::Mat> powers(parts.size());
  const cv::Mat samples = as_mat(image);
  oneapi::tbb::parallel_for(std::size_t{0}, parts.size(),
                            [&](std::size_t p) { powers[p] = power_of(samples(parts[p])); });
  for (std::size_t p = 1; p < powers.size(); ++p) powers[0] += powers[p];
  return powers[0];
}

// The upper half of the plane of frequencies, in steps.
class Plane {
 public:
  explicit Plane(const cv::Mat& power) : power_(power), half_(power.rows / 2) {
    std::vector<std::vector<double>> rings(static_cast<std::size_t>(half_ / kRing + 1));
    each([&](int fx, int fy, std::size_t ring) { rings[ring].push_back(at(fx, fy)); });
    for (auto& ring : rings) usual_.push_back(ring.empty() ? 0.0 : numeric::upper_median(std::move(ring)));
  }
  double at(int fx, int fy) const { return static_cast<double>(power_.at<float>(wrapped(fy), wrapped(fx))); }
  std::vector<Peak> peaks() const {
    std::vector<Peak> found;
    each([&](int fx, int fy, std::size_t ring) {
      const double here = at(fx, fy), height = usual_[ring] > 0.0 ? here / usual_[ring] : 0.0;
      if (height < kStandsOut || !highest(fx, fy)) return;
      double sum = 0.0, x = 0.0, y = 0.0;
      for (int dy = -1; dy <= 1; ++dy)
        for (int dx = -1; dx <= 1; ++dx) {
          const double weight = at(fx + dx, fy + dy);
          sum += weight, x += weight * (fx + dx), y += weight * (fy + dy);
        }
      found.push_back({folded(std::atan2(y, x)), height});
    });
    std::stable_sort(found.begin(), found.end(), [](const Peak& a, const Peak& b) { return a.height > b.height; });
    return found;
  }

 private:
  int wrapped(int f) const { return (f + power_.rows) % power_.rows; }
  bool highest(int fx, int fy) const {
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx)
        if (at(fx + dx, fy + dy) > at(fx, fy)) return false;
    return true;
  }
  template <class Visit>
  void each(Visit visit) const {
    for (int fy = 0; fy < half_; ++fy)
      for (int fx = 1 - half_; fx < half_; ++fx) {
        if (fy == 0 && fx <= 0) continue;  // seen from the other side
        const double length = std::hypot(fx, fy);
        if (length >= kLowest && length < half_) visit(fx, fy, static_cast<std::size_t>(length) / kRing);
      }
  }
  const cv::Mat& power_;
  int half_;
  std::vector<double> usual_;
};

}  // namespace

std::vector<double> spectral_directions(const ImageView& image) {
  const int size = part_size(image);
  if (size < kLeastPart) return {};
  const cv::Mat power = mean_power(image, size);
  std::vector<double> directions;
  for (const Peak& peak : Plane(power).peaks()) {
    const bool known = std::any_of(directions.begin(), directions.end(), [&](double other) {
      return std::abs(folded(peak.angle - other)) < radians_from_degrees(kSameDirection).value;
    });
    if (!known) directions.push_back(peak.angle);
    if (directions.size() == kMostDirections) break;
  }
  return directions;
}

}  // namespace scale
