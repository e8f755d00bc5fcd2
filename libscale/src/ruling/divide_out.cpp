#include "ruling/divide_out.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "numeric/robust.h"

namespace scale {
namespace {

constexpr double kTail = 0.01;      // of the profile: less is ground
constexpr double kDeep = 0.7;       // of the profile
constexpr double kBrightest = 5.0;  // times the ground's light that a bright line adds

// The folded profile of the lines: 1 at its deepest, 0 far from the line.
class Shape {
 public:
  explicit Shape(const Ruling& ruling) : offset_(ruling.profile_offset_px), value_(ruling.profile_value) {
    if (value_.size() < 3) return;
    peak_ = *std::max_element(value_.begin(), value_.end());
    for (std::size_t i = 0; i < value_.size() && peak_ > 0.0; ++i)
      if (at(offset_[i]) > kTail) reach_ = std::max(reach_, std::abs(offset_[i]) + 0.5);
  }
  bool usable() const { return reach_ > 0.0; }
  double reach() const { return reach_; }
  double at(double t) const {
    if (t <= offset_.front() || t >= offset_.back()) return 0.0;
    const auto after = std::upper_bound(offset_.begin(), offset_.end(), t);
    const std::size_t i = static_cast<std::size_t>(after - offset_.begin());
    const double share = (t - offset_[i - 1]) / (offset_[i] - offset_[i - 1]);
    return (value_[i - 1] + share * (value_[i] - value_[i - 1])) / peak_;
  }

 private:
  const std::vector<double>&offset_, &value_;
  double peak_ = 0.0, reach_ = 0.0;
};

// Runs over the pixels within `reach` of a line: (x, y, offset along the axis).
template <class Visit>
void along(const cv::Mat& grey, const Graduation& line, double direction, double reach, const Visit& visit) {
  const double c = std::cos(direction), s = std::sin(direction);
  const double length = std::hypot(line.x2_px - line.x1_px, line.y2_px - line.y1_px);
  if (!(length > 0.0)) return;
  const double ux = (line.x2_px - line.x1_px) / length, uy = (line.y2_px - line.y1_px) / length;
  const double room = reach + kBeyondEnds;
  const int left = std::max(0, static_cast<int>(std::min(line.x1_px, line.x2_px) - room));
  const int right = std::min(grey.cols - 1, static_cast<int>(std::max(line.x1_px, line.x2_px) + room) + 1);
  const int top = std::max(0, static_cast<int>(std::min(line.y1_px, line.y2_px) - room));
  const int bottom = std::min(grey.rows - 1, static_cast<int>(std::max(line.y1_px, line.y2_px) + room) + 1);
  for (int y = top; y <= bottom; ++y)
    for (int x = left; x <= right; ++x) {
      const double dx = x - line.x1_px, dy = y - line.y1_px;
      const double on = dx * ux + dy * uy;
      if (on < -kBeyondEnds || on > length + kBeyondEnds) continue;
      // Where the line is at this height, and how far from it along the axis.
      const double offset = (dx - on * ux) * c + (dy - on * uy) * s;
      if (std::abs(offset) <= reach) visit(x, y, offset);
    }
}

double sample(const cv::Mat& grey, double x, double y) {
  const int column = std::clamp(static_cast<int>(std::lround(x)), 0, grey.cols - 1);
  const int row = std::clamp(static_cast<int>(std::lround(y)), 0, grey.rows - 1);
  return static_cast<double>(grey.at<float>(row, column));
}

struct Sides {
  double c, s, reach;
  // Ground on both sides of the line, where it stands over a pixel `offset` from its middle; the brighter or darker of
  // the two is another scale's line, so the one nearer to the ground of the ruling counts: the larger for dark lines.
  double ground(const cv::Mat& grey, int x, int y, double offset, bool dark) const {
    const double before = sample(grey, x - (offset + reach) * c, y - (offset + reach) * s);
    const double after = sample(grey, x - (offset - reach) * c, y - (offset - reach) * s);
    return dark ? std::max(before, after) : std::min(before, after);
  }
};

// Share of the ground's light that a line takes in its middle, negative for a bright one: the median over its pixels
// where the profile is deep.
double depth_of(const cv::Mat& grey, const Graduation& line, const Ruling& ruling, const Shape& shape) {
  const Sides sides{std::cos(ruling.direction.value), std::sin(ruling.direction.value), shape.reach()};
  std::vector<double> depths;
  along(grey, line, ruling.direction.value, shape.reach(), [&](int x, int y, double offset) {
    const double profile = shape.at(offset);
    if (profile < kDeep) return;
    const double ground = sides.ground(grey, x, y, offset, ruling.dark_on_bright);
    if (ground > 0.0) depths.push_back((1.0 - static_cast<double>(grey.at<float>(y, x)) / ground) / profile);
  });
  return std::clamp(numeric::upper_median(std::move(depths)), -kBrightest, 1.0);
}

}  // namespace

cv::Mat divided_out(const cv::Mat& picture, const Ruling& ruling) {
  const Shape shape(ruling);
  if (!shape.usable()) return picture.clone();
  cv::Mat grey;
  picture.convertTo(grey, CV_32F);
  const cv::Mat before = grey.clone();
  const Sides sides{std::cos(ruling.direction.value), std::sin(ruling.direction.value), shape.reach()};
  for (const Graduation& line : ruling.graduations) {
    const double depth = depth_of(before, line, ruling, shape);
    along(grey, line, ruling.direction.value, shape.reach(), [&](int x, int y, double offset) {
      const double through = 1.0 - depth * shape.at(offset);
      float& value = grey.at<float>(y, x);
      value = through >= kDarkest ? static_cast<float>(static_cast<double>(value) / through)
                                  : static_cast<float>(sides.ground(before, x, y, offset, ruling.dark_on_bright));
    });
  }
  cv::Mat result;
  grey.convertTo(result, picture.type());
  return result;
}

}  // namespace scale
