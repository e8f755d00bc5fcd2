#include "specimen/silhouettes.h"

#include <algorithm>
#include <boost/sort/spreadsort/float_sort.hpp>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/area_means.h"
#include "image/frame.h"

namespace scale {
namespace {

constexpr double kSignificance = 5.0;  // a sample in 3 million by chance, and those not in clusters
constexpr double kFaintest = 0.10;     // share of the typical contrast below which nothing is looked for
constexpr double kHalve = 1.5e6,
                 kThird = 8e6;  // pixels: such pictures are reduced to find bodies, never to measure them
constexpr int kNearby = 4;      // samples: as far as the slope of an edge reaches

int reduction_of(const ImageView& image) {
  const double pixels = static_cast<double>(image.width) * image.height;
  return pixels > kThird ? 3 : pixels > kHalve ? 2 : 1;
}

cv::Mat reduced_picture(const ImageView& image, int reduction) {
  cv::Mat result;
  (reduction > 1 ? area_means(as_mat(image), reduction) : as_mat(image)).convertTo(result, CV_32F);
  return result;
}

// Samples of the reduced picture that marks have a part in.
cv::Mat touched_by(const cv::Mat& marks, int reduction) {
  return marks.empty() || reduction == 1 ? marks : cv::Mat(area_means(marks, reduction) > 0);
}

// What lies under a thin mark is like what is beside it; what is under a wide one nobody knows: no difference.
void take_out(const cv::Mat& drawn, cv::Mat& difference) {
  constexpr int kThin = 13;  // samples: thinner marks hide no fibre that is looked for
  cv::Mat wide, distance, nearest;
  cv::morphologyEx(drawn, wide, cv::MORPH_OPEN, cv::Mat::ones(kThin, kThin, CV_8U));
  cv::distanceTransform(drawn, distance, nearest, cv::DIST_L2, 3, cv::DIST_LABEL_PIXEL);
  std::vector<float> beside(drawn.total() + 1);  // by the label of its place
  for (int y = 0; y < drawn.rows; ++y)
    for (int x = 0; x < drawn.cols; ++x)
      if (drawn.at<std::uint8_t>(y, x) == 0)
        beside[static_cast<std::size_t>(nearest.at<int>(y, x))] = difference.at<float>(y, x);
  for (int y = 0; y < drawn.rows; ++y)
    for (int x = 0; x < drawn.cols; ++x)
      if (drawn.at<std::uint8_t>(y, x) != 0)
        difference.at<float>(y, x) =
            wide.at<std::uint8_t>(y, x) != 0 ? 0.0F : beside[static_cast<std::size_t>(nearest.at<int>(y, x))];
}

// Some 100 000 samples of the differences, sorted.
std::vector<float> sampled(const cv::Mat& difference) {
  const int step = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(difference.total()) / 1e5)));
  std::vector<float> values;
  for (int y = step / 2; y < difference.rows; y += step)
    for (int x = step / 2; x < difference.cols; x += step) values.push_back(difference.at<float>(y, x));
  // Half the time of std::sort. Either sign by itself: over both, the difference of the bits overflows within.
  const auto positive = std::partition(values.begin(), values.end(), [](float value) { return std::signbit(value); });
  boost::sort::spreadsort::float_sort(values.begin(), positive);
  boost::sort::spreadsort::float_sort(positive, values.end());
  return values;
}

// Bodies lie on one side of the ground mostly: the quieter side tells how rough it is.
double roughness_of(const std::vector<float>& sorted) {
  const auto zero = std::lower_bound(sorted.begin(), sorted.end(), 0.0F);
  const auto below = zero - sorted.begin(), above = sorted.end() - zero;
  constexpr double kOneSigma = 0.6827;
  const double lower =
      below > 0
          ? -static_cast<double>(*(zero - 1 - static_cast<std::ptrdiff_t>(kOneSigma * static_cast<double>(below - 1))))
          : 1e9;
  const double upper =
      above > 0 ? static_cast<double>(*(zero + static_cast<std::ptrdiff_t>(kOneSigma * static_cast<double>(above - 1))))
                : 1e9;
  // A side with few samples has no ground to speak of.
  const std::size_t few = sorted.size() / 20;
  if (static_cast<std::size_t>(below) < few) return upper;
  if (static_cast<std::size_t>(above) < few) return lower;
  return std::min(lower, upper);
}

struct Energy {
  double squares = 0.0, cubes = 0.0;
  double contrast() const { return squares > 0.0 ? cubes / squares : 0.0; }
};

Energy energy_of(const std::vector<float>& sorted, double sign, double limit) {
  Energy energy;
  for (const float value : sorted) {
    const double size = sign * static_cast<double>(value);
    if (size <= limit) continue;
    energy.squares += size * size;
    energy.cubes += size * size * size;
  }
  return energy;
}

// A faint body beside a strong one is above the ground as well as that one, though below the share of its contrast:
// from what is mask uphill all is mask. Downhill it may be the foot of an edge, and ground beyond.
void grow_uphill(cv::Mat& mask, const cv::Mat& difference, double least) {
  const cv::Rect frame({}, mask.size());
  std::vector<cv::Point> grown;
  const auto grow_from = [&](const cv::Point& at) {
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx) {
        const cv::Point next = at + cv::Point(dx, dy);
        if (!frame.contains(next) || mask.at<std::uint8_t>(next) != 0) continue;
        const float value = difference.at<float>(next);
        if (static_cast<double>(value) <= least || value < difference.at<float>(at)) continue;
        mask.at<std::uint8_t>(next) = 255;
        grown.push_back(next);
      }
  };
  for (int y = 0; y < mask.rows; ++y) {
    const std::uint8_t* samples = mask.ptr<std::uint8_t>(y);
    for (int x = 0; x < mask.cols; ++x)
      if (samples[x] != 0) grow_from({x, y});
  }
  while (!grown.empty()) {
    const cv::Point at = grown.back();
    grown.pop_back();
    grow_from(at);
  }
}

// A part of what is not mask, enclosed by it or by it and the frame.
struct Hole {
  cv::Rect box;
  int area = 0;
  float widest = 0.0F;                        // largest distance to the mask
  double core = 0.0;                          // mean difference of the samples far from the mask
  int core_count = 0, border = 0, thick = 0;  // of its border, and how much of that lies beside something thick
};

struct Holes {
  cv::Mat labels, distance;
  std::vector<Hole> list;  // by label; 0 is the mask
  int ground = 1;          // the largest
};

constexpr float kRim = 8.0F;  // samples: thicker is no rim, half of it to the middle of the rim; blur is part of it
constexpr double kWidestMiddle = 60.0;  // samples

// What is of a part of the mask that is no thin line, or beside it; CV_8U. From the middle of such a part to its sides
// within the mask, so that it does not reach over a narrow hole.
cv::Mat beside_thick(const cv::Mat& mask) {
  cv::Mat thickness, thick;
  cv::distanceTransform(mask, thickness, cv::DIST_L2, 3);
  cv::compare(thickness, 0.5F * kRim + 0.5F, thick, cv::CMP_GT);
  const cv::Mat around = cv::Mat::ones(3, 3, CV_8U);
  for (int i = 0; i <= static_cast<int>(0.5F * kRim) + 1; ++i) {
    cv::dilate(thick, thick, around);
    thick &= mask;
  }
  cv::dilate(thick, thick, around);
  return thick;
}

Holes holes_of(const cv::Mat& mask, const cv::Mat& difference) {
  Holes holes;
  cv::Mat outside = 255 - mask;
  const Components parts = components_of(outside, 4);
  holes.labels = parts.labels;
  holes.list.resize(parts.list.size());
  for (int i = 1; i <= parts.count(); ++i) {
    holes.list[static_cast<std::size_t>(i)].area = parts[i].area;
    holes.list[static_cast<std::size_t>(i)].box = parts[i].box;
    if (parts[i].area > parts[holes.ground].area) holes.ground = i;
  }
  if (parts.count() <= 1) return holes;
  cv::distanceTransform(outside, holes.distance, cv::DIST_L2, 3);
  const cv::Mat thick = beside_thick(mask);
  const auto each = [&](const auto& visit) {
    for (int y = 0; y < mask.rows; ++y) {
      const int* labels = holes.labels.ptr<int>(y);
      for (int x = 0; x < mask.cols; ++x)
        if (labels[x] > 0 && labels[x] != holes.ground) visit(holes.list[static_cast<std::size_t>(labels[x])], y, x);
    }
  };
  each([&](Hole& hole, int y, int x) { hole.widest = std::max(hole.widest, holes.distance.at<float>(y, x)); });
  each([&](Hole& hole, int y, int x) {
    const float away = holes.distance.at<float>(y, x);
    if (away >= 0.6F * hole.widest) hole.core += static_cast<double>(difference.at<float>(y, x)), ++hole.core_count;
    if (away < 1.5F) ++hole.border, hole.thick += thick.at<std::uint8_t>(y, x) != 0;
  });
  return holes;
}

// What of a body shows paler than its rim, the lines of its texture or its core, but not as pale as the ground. Ground
// between bodies has thick ones around it; where it is narrow their blur reaches all of it.
bool is_pale(const Hole& hole, double least) {
  constexpr double kMostlyThin = 0.5, kClear = 3.0;  // of the border; samples
  constexpr int kFleck = 100;                        // samples: what noise and texture leave of a pale body
  if (hole.core < least * hole.core_count) return false;
  if (hole.area < kFleck) return true;
  return static_cast<double>(hole.widest) > kClear && 2.0 * static_cast<double>(hole.widest) < kWidestMiddle &&
         hole.thick < kMostlyThin * hole.border;
}

// The middle of a rimmed body: of the other tone, or paler than the rim, or a long even gap between two thin lines, or
// what noise makes.
bool is_middle(const Hole& hole, const Silhouettes& found) {
  constexpr int kPinhole = 12;
  if (hole.area <= kPinhole) return true;
  // What is as large as a good part of the picture may be ground that a fibre cuts off, where the light is uneven.
  constexpr double kOther = 0.04, kLarge = 0.05, kClearlyOther = 0.25;  // of the contrast; of the picture's area
  const double tone = hole.area > kLarge * static_cast<double>(found.mask.total()) ? kClearlyOther : kOther;
  const double least = std::max(2.0 * found.roughness / std::sqrt(hole.core_count / 9.0 + 0.1), tone * found.contrast);
  if (hole.core / hole.core_count < -least || is_pale(hole, least)) return true;
  const double width = 2.0 * static_cast<double>(hole.widest);
  constexpr double kLong = 5.0, kThin = 0.1;
  const bool even = hole.area > 0.6 * width * (0.5 * hole.border - width);
  if (hole.thick >= kThin * hole.border || width >= kWidestMiddle) return false;
  // Cells between rims that the lines of the scales part, where these are as clear as the rim.
  constexpr double kWidestCell = 40.0, kCompact = 3.0;
  return (hole.area > kLong * width * width && even) || (width < kWidestCell && hole.area < kCompact * width * width);
}

// The space between the rim of a body and its core, where that lies in it as an island or from end to end: long and
// even, with a thin line along one side at least. Ground between two bodies has none, or is not even.
bool is_beside_core(const Holes& holes, int label) {
  const Hole& hole = holes.list[static_cast<std::size_t>(label)];
  constexpr double kThick = 0.6, kLong = 5.0, kEven = 0.6;  // of the border; widths; of a space as wide all along
  if (hole.thick > kThick * hole.border || 2.0 * static_cast<double>(hole.widest) > kWidestMiddle) return false;
  cv::Mat padded, distance;
  std::vector<std::vector<cv::Point>> contours;
  cv::copyMakeBorder(holes.labels(hole.box) == label, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::findContours(padded, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  cv::drawContours(padded, contours, -1, cv::Scalar(255), cv::FILLED);  // with the islands
  cv::distanceTransform(padded, distance, cv::DIST_L2, 3);
  double widest = 0.0;
  cv::minMaxLoc(distance, nullptr, &widest);
  const double width = 2.0 * widest, area = cv::countNonZero(padded);
  const double length = 0.5 * static_cast<double>(contours.front().size()) - width;
  return width < kWidestMiddle && area > kLong * width * width && area > kEven * width * length;
}

// Are there holes left that may be beside a core?
bool fill_middles(cv::Mat& mask, const cv::Mat& difference, const Silhouettes& found, bool beside_cores) {
  const Holes holes = holes_of(mask, difference);
  std::vector<std::uint8_t> fill(holes.list.size(), 0);
  bool any = false, left = false;
  for (int i = 1; i < static_cast<int>(fill.size()); ++i) {
    if (i == holes.ground) continue;
    const bool middle =
        beside_cores ? is_beside_core(holes, i) : is_middle(holes.list[static_cast<std::size_t>(i)], found);
    if (middle) fill[static_cast<std::size_t>(i)] = 255;
    any = any || middle;
    left =
        left || (!middle && 2.0 * static_cast<double>(holes.list[static_cast<std::size_t>(i)].widest) < kWidestMiddle);
  }
  if (!any) return left;
  for (int y = 0; y < mask.rows; ++y) {
    const int* label = holes.labels.ptr<int>(y);
    std::uint8_t* out = mask.ptr<std::uint8_t>(y);
    for (int x = 0; x < mask.cols; ++x) out[x] |= fill[static_cast<std::size_t>(label[x])];
  }
  return left;
}

// A closed rim whose middle is as bright as the ground: the component has one large hole and, filled, hardly a dent.
void fill_even_rims(cv::Mat& mask) {
  std::vector<std::vector<cv::Point>> contours;
  std::vector<cv::Vec4i> tree;  // next, previous, first child, parent
  cv::findContours(mask, contours, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  for (std::size_t i = 0; i < contours.size(); ++i) {
    if (tree[i][3] >= 0 || tree[i][2] < 0) continue;
    int largest = tree[i][2];
    for (int hole = tree[i][2]; hole >= 0; hole = tree[static_cast<std::size_t>(hole)][0])
      if (contours[static_cast<std::size_t>(hole)].size() > contours[static_cast<std::size_t>(largest)].size())
        largest = hole;
    std::vector<cv::Point> hull;
    cv::convexHull(contours[i], hull);
    const double area = cv::contourArea(contours[i]);
    const double hole_area = cv::contourArea(contours[static_cast<std::size_t>(largest)]);
    constexpr double kCompact = 0.9, kMostlyHole = 0.3;
    if (area < kCompact * cv::contourArea(hull) || hole_area < kMostlyHole * area) continue;
    cv::drawContours(mask, contours, static_cast<int>(i), cv::Scalar(255), cv::FILLED);
  }
}

}  // namespace

Silhouettes silhouettes_of(const ImageView& image, const Ground& ground, const cv::Mat& marks, double noise,
                           const SpecimenOptions& options) {
  Silhouettes found;
  found.reduction = reduction_of(image);
  cv::Mat difference = reduced_picture(image, found.reduction);
  difference -= ground.reduced(difference.size(), found.reduction);
  const cv::Mat outside = ground.outside(difference.size(), found.reduction);
  if (!outside.empty()) {
    difference.setTo(0.0, outside);
    cv::dilate(outside, found.stop, cv::Mat::ones(5, 5, CV_8U));
  }
  const cv::Mat drawn = touched_by(marks, found.reduction);
  if (!drawn.empty()) {
    take_out(drawn, difference);
    cv::Mat beside;
    cv::dilate(drawn, beside, cv::Mat::ones(5, 5, CV_8U));
    found.stop = found.stop.empty() ? beside : found.stop | beside;
  }
  cv::blur(difference, difference, {3, 3}, {-1, -1}, cv::BORDER_REPLICATE);
  const std::vector<float> sorted = sampled(difference);
  // White noise is a third of itself after smoothing; a half allows for rounding.
  found.roughness = std::max({roughness_of(sorted), noise / (3.0 * found.reduction), 0.5 / 3.0 * image.white / 255.0});
  const double limit = kSignificance * found.roughness;
  const Energy dark = energy_of(sorted, -1.0, limit), bright = energy_of(sorted, 1.0, limit);
  found.dark = options.tone == BodyTone::dark || (options.tone == BodyTone::either && dark.squares >= bright.squares);
  found.contrast = (found.dark ? dark : bright).contrast();
  found.other_share = (found.dark ? bright : dark).squares / std::max(dark.squares + bright.squares, 1e-300);
  if (found.dark) difference *= -1.0;
  cv::compare(difference, -limit, found.cover, cv::CMP_LT);
  if (!drawn.empty()) {
    cv::Mat beside;  // the smoothing has blurred what is next to a mark
    cv::dilate(drawn, beside, cv::Mat::ones(3, 3, CV_8U));
    found.cover |= beside;
  }
  const double least = std::max(limit, kFaintest * found.contrast);
  cv::Mat nearby;
  cv::dilate(difference, nearby, cv::Mat::ones(2 * kNearby + 1, 2 * kNearby + 1, CV_8U), {-1, -1}, 1,
             cv::BORDER_REPLICATE);
  nearby *= options.finding_level;
  cv::max(nearby, least, nearby);
  cv::compare(difference, nearby, found.mask, cv::CMP_GT);
  grow_uphill(found.mask, difference, least);
  // Cores once middles are filled: only rims of what is left are thin then.
  if (fill_middles(found.mask, difference, found, false)) fill_middles(found.mask, difference, found, true);
  fill_even_rims(found.mask);
  if (!outside.empty()) found.mask.setTo(0, outside);
  found.parts = components_of(found.mask, 8);
  return found;
}

}  // namespace scale
