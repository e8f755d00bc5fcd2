#include "specimen/doubts.h"

#include <scale/measurement.h>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>

#include "numeric/robust.h"
#include "specimen/fibres.h"

namespace scale {
namespace {

double sample(const ImageView& image, int x, int y) {
  if (image.type == SampleType::u8) return image.row<std::uint8_t>(y)[x];
  if (image.type == SampleType::u16) return image.row<std::uint16_t>(y)[x];
  return static_cast<double>(image.row<float>(y)[x]);
}

// Height of the relief over the ground along a straight line, mean over several lines; NaN counts for nothing.
class Heights {
 public:
  explicit Heights(std::size_t count) : sums_(count, 0.0), counts_(count, 0) {}
  void add(const std::vector<float>& values) {
    for (std::size_t i = 0; i < sums_.size(); ++i)
      if (std::isfinite(values[i])) sums_[i] += static_cast<double>(values[i]), ++counts_[i];
  }
  std::vector<double> means() const {
    std::vector<double> result;
    for (std::size_t i = 0; i < sums_.size(); ++i) result.push_back(counts_[i] > 0 ? sums_[i] / counts_[i] : 0.0);
    return result;
  }

 private:
  std::vector<double> sums_;
  std::vector<int> counts_;
};

constexpr int kAcross = 61;          // places of a profile from edge to edge of a fibre
constexpr double kEdgeShare = 0.16;  // of the width from either edge: the rim's own

// Mean heights from the left to the right edge of a fibre over some of its places.
std::vector<double> across(const Body& fibre, const Relief& relief, std::size_t from, std::size_t to) {
  Heights heights(kAcross);
  // From beyond the edge: the relief takes its ground at the last place.
  constexpr int kBeyond = 10;
  std::vector<float> values(kAcross + kBeyond);
  for (std::size_t i = from; i < to; i += 2) {
    const LocalWidth& local = fibre.widths[i];
    if (!local.used) continue;
    const cv::Point2d left(local.left.x, local.left.y), right(local.right.x, local.right.y);
    relief.profile(left, (right - left) * (1.0 / (kAcross - 1)), kAcross + kBeyond, values.data());
    heights.add(values);
  }
  return heights.means();
}

// Where inside a profile a line stands out, as a share of the largest height. Between rims: of the body's tone, as
// their joint or a medulla makes; in a solid body: lighter, as the gap between two.
struct Line {
  double strength = 0.0;
  int at = 0;
};

Line strongest_line(const std::vector<double>& heights, bool rimmed) {
  const int first = static_cast<int>(kEdgeShare * kAcross), last = kAcross - 1 - first;
  const double most = *std::max_element(heights.begin(), heights.end());
  Line line;
  if (!(most > 0.0)) return line;
  for (int i = first; i <= last; ++i) {
    const auto at = heights.begin() + i, begin = heights.begin() + first / 2, end = heights.end() - first / 2;
    const double strength = rimmed ? *at - std::max(*std::min_element(begin, at + 1), *std::min_element(at, end))
                                   : std::min(*std::max_element(begin, at + 1), *std::max_element(at, end)) - *at;
    if (strength > line.strength * most) line = {strength / most, i};
  }
  return line;
}

// Least squares of values by a few courses.
template <int kCourses>
struct Courses {
  double rest = 0.0;  // sum of squares that is left
  Eigen::Matrix<double, kCourses, 1> shares;
};

template <int kCourses, class Course>
Courses<kCourses> fitted(const std::vector<double>& values, const Course& course) {
  using Vector = Eigen::Matrix<double, kCourses, 1>;
  Eigen::Matrix<double, kCourses, kCourses> normal = Eigen::Matrix<double, kCourses, kCourses>::Zero();
  Vector right = Vector::Zero();
  double squares = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const Vector at = course(static_cast<double>(i));
    normal += at * at.transpose();
    right += at * values[i];
    squares += values[i] * values[i];
  }
  const Vector shares = normal.ldlt().solve(right);
  return {std::max(0.0, squares - shares.dot(right)), shares};
}

// Where a solid body changes its tone in a step, as where a paler one begins beside a darker one; as a share of the
// largest height. Where one lies over the other there is a ridge as well. Uneven light and a round body make a slope
// and a bow instead.
Line strongest_step(const std::vector<double>& heights, double blur) {
  constexpr double kFromEdge = 2.5;  // blurs, where its slope has ended
  constexpr double kClearly = 0.3;   // of what a bow leaves: a step between two levels leaves next to nothing of them
  const int first = static_cast<int>(std::max(kEdgeShare * kAcross, kFromEdge * blur)) + 1, last = kAcross - 1 - first;
  const double most = *std::max_element(heights.begin(), heights.end());
  if (!(most > 0.0) || last - first < kAcross / 3) return {};
  const std::vector<double> values(heights.begin() + first, heights.begin() + last + 1);
  const int count = last - first + 1, least = std::max(3, static_cast<int>(2.0 * blur));  // places either side has
  double rest = std::numeric_limits<double>::infinity();
  Line line;
  for (int at = least; at < count - least; ++at) {
    const auto ridge = [&](double i) { return std::exp(-0.5 * std::pow((i - at) / (1.5 * blur), 2)); };
    const auto step = fitted<3>(values, [&](double i) {
      return Eigen::Vector3d(1.0, 0.5 * std::erfc((i - at) / (std::sqrt(2.0) * blur)), ridge(i));
    });
    if (step.rest >= rest) continue;
    const auto bow = fitted<4>(values, [&](double i) {
      const double x = 2.0 * i / (count - 1) - 1.0;
      return Eigen::Vector4d(1.0, x, x * x, ridge(i));
    });
    rest = step.rest;
    line = step.rest < kClearly * bow.rest ? Line{std::abs(step.shares[1]) / most, first + at} : Line{};
  }
  return line;
}

// How much of its step the sharpest pair of neighbouring samples makes, mean along the outline; 0: cannot be told.
// A Gaussian of s pixels makes 2 Phi(0.5 / s) - 1: 0.6 at 0.6 pixels.
double sharpness_of(const Body& body, const ImageView& image) {
  constexpr int kReach = 4;           // samples either side of the outline
  constexpr double kNearAxis = 0.94;  // cosine of 20 degrees: slanting edges change over more samples
  constexpr double kLeastStep = 0.1;  // of white
  constexpr int kLeastPlaces = 6;
  double sum = 0.0;
  int count = 0;
  const std::size_t size = body.outline.size();
  for (std::size_t i = 0; i < size; ++i) {
    const PixelPoint &here = body.outline[i], &next = body.outline[(i + 3) % size],
                     &before = body.outline[(i + size - 3) % size];
    const double dx = next.x - before.x, dy = next.y - before.y, length = std::hypot(dx, dy);
    const bool along_x = std::abs(dx) > kNearAxis * length, along_y = std::abs(dy) > kNearAxis * length;
    if (!(length > 0.0) || along_x == along_y) continue;
    const int x = static_cast<int>(std::lround(here.x)), y = static_cast<int>(std::lround(here.y));
    const int sx = along_y ? 1 : 0, sy = along_x ? 1 : 0;
    if (x < kReach * sx || y < kReach * sy || x < 0 || y < 0 || x + kReach * sx >= image.width ||
        y + kReach * sy >= image.height)
      continue;
    std::array<double, 2 * kReach + 1> line{};
    for (int k = 0; k < static_cast<int>(line.size()); ++k)
      line[static_cast<std::size_t>(k)] = sample(image, x + (k - kReach) * sx, y + (k - kReach) * sy);
    double most = 0.0;
    for (std::size_t k = 1; k < line.size(); ++k) most = std::max(most, std::abs(line[k] - line[k - 1]));
    const auto [low, high] = std::minmax_element(line.begin(), line.end());
    if (*high - *low < kLeastStep * image.white) continue;
    sum += most / (*high - *low), ++count;
  }
  return count >= kLeastPlaces ? sum / count : 0.0;
}

}  // namespace

bool looks_like_bubble(const Body& grain, const Relief& relief) {
  constexpr double kRound = 0.98, kEven = 0.95;  // sqrt(4 pi A) / P; least over largest Feret diameter
  constexpr double kBright = 0.3;                // the middle's height over the ring's
  constexpr int kRays = 32, kPlaces = 24;
  if (grain.kind != BodyKind::grain || grain.at_border) return false;
  const OutlineSizes sizes = sizes_of(grain.outline);
  if (sizes.shape.circularity < kRound || sizes.feret_min < kEven * sizes.feret_max) return false;
  const cv::Point2d centre(grain.at.x, grain.at.y);
  const double reach = 0.5 * sizes.feret_max + 3.0 * grain.edge_blur_px + 1.0;
  Heights heights(kPlaces);
  std::vector<float> values(kPlaces);
  for (int ray = 0; ray < kRays; ++ray) {
    const double angle = 2.0 * CV_PI * ray / kRays;
    relief.profile(centre, cv::Point2d(std::cos(angle), std::sin(angle)) * (reach / (kPlaces - 1)), kPlaces,
                   values.data());
    heights.add(values);
  }
  const std::vector<double> means = heights.means();
  const double ring = *std::max_element(means.begin() + kPlaces / 3, means.end());
  const double middle = *std::max_element(means.begin(), means.begin() + kPlaces / 4);
  return ring > 0.0 && middle < kBright * ring;
}

bool has_line_inside(const Body& fibre, const Relief& relief) {
  constexpr double kStands = 0.2, kOther = 0.08;  // of the largest height: a line, a step
  constexpr std::size_t kParts = 5, kMost = 4;    // lengths looked at by themselves; in which it must show
  constexpr double kSame = 0.1;                   // of the width: how far it may wander
  constexpr double kWide = 6.0;                   // blurs of the fibre: what narrower ones show inside is their edges
  if (fibre.kind != BodyKind::fibre || mean_width(fibre) < kWide * fibre.edge_blur_px) return false;
  const double blur = fibre.edge_blur_px / mean_width(fibre) * kAcross;  // places
  std::vector<double> lines, steps;
  for (std::size_t part = 0; part < kParts; ++part) {
    const std::size_t count = fibre.widths.size();
    const std::vector<double> heights = across(fibre, relief, count * part / kParts, count * (part + 1) / kParts);
    const Line line = strongest_line(heights, fibre.rimmed);
    const Line step = fibre.rimmed ? Line{} : strongest_step(heights, blur);
    if (line.strength > kStands) lines.push_back(line.at);
    if (step.strength > kOther) steps.push_back(step.at);
  }
  const auto at_one_place = [&](const std::vector<double>& places) {
    if (places.size() < kMost) return false;
    const double middle = numeric::median(std::span<const double>(places));
    const auto near = [&](double place) { return std::abs(place - middle) < kSame * kAcross; };
    return std::count_if(places.begin(), places.end(), near) >= static_cast<std::ptrdiff_t>(kMost);
  };
  return at_one_place(lines) || at_one_place(steps);
}

int leave_out_drawn(std::vector<Body>& bodies, const ImageView& image) {
  constexpr double kExtreme = 0.06, kSharp = 0.65;      // of white; pixels, where a pixel alone makes 0.3 to 0.4
  constexpr double kWithinPixel = 0.62, kSofter = 0.8;  // of the step; times that for bodies to tell from
  // Of the softer bodies' blur: a fibre that a mark lies along has hard edges there, but not its own.
  constexpr double kOwnBlur = 0.85;
  std::vector<double> sharpness, soft, blurs;
  for (const Body& body : bodies) {
    sharpness.push_back(sharpness_of(body, image));
    if (sharpness.back() >= kWithinPixel) continue;
    soft.push_back(sharpness.back());
    blurs.push_back(body.edge_blur_px);
  }
  double own_blur = 0.0;
  if (!soft.empty() && numeric::median_in_place(std::span<double>(soft)) < kSofter * kWithinPixel)
    own_blur = kOwnBlur * numeric::median_in_place(std::span<double>(blurs));
  std::vector<Body> kept;
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    const double level = bodies[i].inside_level / image.white, blur = bodies[i].edge_blur_px;
    const bool extreme = level < kExtreme || level > 1.0 - kExtreme, sharp = sharpness[i] > kWithinPixel;
    if ((extreme && (sharp || blur < kSharp)) ||
        (sharp && (bodies[i].kind == BodyKind::grain ? own_blur > 0.0 : blur < own_blur)))
      continue;
    kept.push_back(std::move(bodies[i]));
  }
  const auto drawn = static_cast<int>(bodies.size() - kept.size());
  bodies = std::move(kept);
  return drawn;
}

}  // namespace scale
