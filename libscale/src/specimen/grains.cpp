#include "specimen/grains.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <opencv2/imgproc.hpp>
#include <queue>
#include <tuple>

#include "numeric/robust.h"
#include "specimen/narrow.h"
#include "specimen/polyline.h"
#include "specimen/shape.h"
#include "specimen/silhouettes.h"

namespace scale {
namespace {

constexpr double kLeastShare = 0.5;  // of the outline that must be an edge
constexpr double kParted = 0.03;     // of the outline without an edge, from which on it is told
constexpr double kNeck = 0.85;       // a neck narrower than this share of the smaller part's width separates it

std::vector<cv::Point2d> outline_of(const GrainShape& shape, int reduction) {
  std::vector<std::vector<cv::Point>> contours;
  cv::Mat padded;
  cv::copyMakeBorder(shape.mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::findContours(padded, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  const auto longest = std::max_element(contours.begin(), contours.end(),
                                        [](const auto& a, const auto& b) { return a.size() < b.size(); });
  std::vector<cv::Point2d> outline;
  if (longest == contours.end() || longest->size() < 8) return outline;
  for (const cv::Point& at : *longest)
    outline.emplace_back(in_picture(at.x - 1 + shape.corner.x, reduction),
                         in_picture(at.y - 1 + shape.corner.y, reduction));
  if (signed_area(outline) < 0.0) std::reverse(outline.begin(), outline.end());
  return smoothed(resampled(outline, 1.0, true), 2.0 * reduction, true);
}

Border border_of(const std::vector<cv::Point2d>& outline, double room) {
  Border border;
  border.closed = true;
  border.at = outline;
  border.outward = normals_of(outline, true);
  // With positive area (x right, y down) the outline runs clockwise on the screen: its normals point inwards.
  for (cv::Point2d& normal : border.outward) normal = -normal;
  border.room.assign(outline.size(), room);
  return border;
}

// One over the radius of curvature, positive where the outline bulges.
std::vector<double> curvature_of(const std::vector<cv::Point2d>& outline, double blur) {
  const double spacing = std::max(0.5, cv::norm(outline[1] - outline[0]));
  const std::vector<cv::Point2d> smooth = smoothed(outline, std::max(2.0, 2.0 * blur) / spacing, true);
  const std::size_t count = smooth.size(), arm = std::min<std::size_t>(3, count / 4);
  std::vector<double> curvature(count, 0.0);
  if (arm == 0) return curvature;
  for (std::size_t i = 0; i < count; ++i) {
    const cv::Point2d before = smooth[i] - smooth[(i + count - arm) % count],
                      after = smooth[(i + arm) % count] - smooth[i];
    const double turn = std::atan2(before.cross(after), before.dot(after));
    curvature[i] = turn / (0.5 * (cv::norm(before) + cv::norm(after)));
  }
  return curvature;
}

std::vector<double> offsets_filled(const EdgeSet& edges) {
  // Round a closed outline: start at a good place, so that gaps lie between good ones.
  const std::size_t count = edges.offset.size();
  std::size_t first = 0;
  while (first < count && !edges.good[first]) ++first;
  std::vector<double> result(count, 0.0);
  if (first == count) return result;
  std::size_t last = first;
  for (std::size_t k = 1; k <= count; ++k) {
    const std::size_t i = (first + k) % count;
    if (!edges.good[i]) continue;
    const std::size_t gap = (i + count - last) % count == 0 ? count : (i + count - last) % count;
    // A cut or the frame: there the silhouette is all there is. Short gaps are bridged.
    constexpr std::size_t kBridge = 12;
    for (std::size_t j = 1; j < gap && gap <= kBridge; ++j)
      result[(last + j) % count] = edges.offset[last] + (edges.offset[i] - edges.offset[last]) *
                                                            static_cast<double>(j) / static_cast<double>(gap);
    result[i] = edges.offset[i];
    last = i;
  }
  return result;
}

std::vector<cv::Point2d> moved(const Border& border, const std::vector<double>& offsets) {
  std::vector<cv::Point2d> result;
  for (std::size_t i = 0; i < border.at.size(); ++i) result.push_back(border.at[i] + border.outward[i] * offsets[i]);
  return result;
}

double share_good(const EdgeSet& edges) {
  return edges.offset.empty() ? 0.0 : static_cast<double>(edges.count) / static_cast<double>(edges.offset.size());
}

// Offsets from a smooth border, smoothed along it: an extreme of the outline, as the least breadth is, takes the noise
// of its place for shape.
std::vector<double> calmed(const std::vector<double>& offsets, const Border& border) {
  constexpr double kAlong = 3.5;  // pixels, standard deviation: half of that over which profiles are averaged
  std::vector<cv::Point2d> pairs;
  for (const double offset : offsets) pairs.emplace_back(offset, 0.0);
  pairs = smoothed(pairs, kAlong / std::max(0.5, cv::norm(border.at[1] - border.at[0])), true);
  std::vector<double> result;
  for (const cv::Point2d& pair : pairs) result.push_back(pair.x);
  return result;
}

// The half level of a blurred edge lies on the hollow side of the true one; of a small body it lies further out again.
std::vector<double> corrected(const EdgeSet& edges, const Border& border, double room, double blur) {
  std::vector<double> offsets = calmed(offsets_filled(edges), border);
  const std::vector<double> curvature = curvature_of(border.at, blur);
  const double extra = room < kFullyResolved * blur ? disc_correction(room, blur) - 0.5 * blur * blur / room : 0.0;
  for (std::size_t i = 0; i < offsets.size(); ++i) {
    if (!edges.good[i]) continue;
    const double bend = std::clamp(curvature[i], -0.5 / blur, 0.5 / blur);
    offsets[i] += edges.shape.correction + 0.5 * blur * blur * bend + (edges.shape.rimmed ? 0.0 : extra);
  }
  return offsets;
}

struct Peak {
  cv::Point at;
  float height;
};

// Tops of the distance to the edge, the highest first, no two closer than the smaller one's height.
std::vector<Peak> tops_of(const cv::Mat& distance) {
  cv::Mat nearby;
  cv::dilate(distance, nearby, cv::Mat::ones(5, 5, CV_8U));
  std::vector<Peak> all, tops;
  for (int y = 0; y < distance.rows; ++y)
    for (int x = 0; x < distance.cols; ++x)
      if (const float height = distance.at<float>(y, x); height >= 3.0F && height >= nearby.at<float>(y, x))
        all.push_back({{x, y}, height});
  std::stable_sort(all.begin(), all.end(), [](const Peak& a, const Peak& b) { return a.height > b.height; });
  const auto neck_between = [&](const Peak& a, const Peak& b) {
    float least = std::min(a.height, b.height);
    const int steps = std::max(2, static_cast<int>(cv::norm(a.at - b.at)));
    for (int i = 0; i <= steps; ++i) {
      const cv::Point2d at = cv::Point2d(a.at) + cv::Point2d(b.at - a.at) * (static_cast<double>(i) / steps);
      least = std::min(least, distance.at<float>(cv::Point(cvRound(at.x), cvRound(at.y))));
    }
    return least;
  };
  for (const Peak& peak : all)
    if (std::all_of(tops.begin(), tops.end(), [&](const Peak& top) {
          return static_cast<double>(neck_between(top, peak)) < kNeck * static_cast<double>(peak.height);
        }))
      tops.push_back(peak);
  return tops;
}

// Every sample to the top from which it is reached first, going down the distance: the fronts meet at the necks.
cv::Mat flooded(const cv::Mat& distance, const std::vector<Peak>& tops) {
  using Front = std::tuple<float, int, int>;  // height; later ones of one height wait
  cv::Mat owner(distance.size(), CV_32S, cv::Scalar(0));
  std::priority_queue<Front> fronts;
  int order = 0;
  for (std::size_t i = 0; i < tops.size(); ++i) {
    owner.at<int>(tops[i].at) = static_cast<int>(i) + 1;
    fronts.emplace(tops[i].height, --order, tops[i].at.y * distance.cols + tops[i].at.x);
  }
  while (!fronts.empty()) {
    const int place = std::get<2>(fronts.top()), x = place % distance.cols, y = place / distance.cols;
    fronts.pop();
    for (const cv::Point step : {cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1), cv::Point(0, -1)}) {
      const cv::Point next = cv::Point(x, y) + step;
      if (!cv::Rect({}, distance.size()).contains(next) || distance.at<float>(next) <= 0.0F || owner.at<int>(next) != 0)
        continue;
      owner.at<int>(next) = owner.at<int>(y, x);
      fronts.emplace(distance.at<float>(next), --order, next.y * distance.cols + next.x);
    }
  }
  return owner;
}

}  // namespace

std::optional<Body> outline_grain(const Relief& relief, const GrainShape& shape, int reduction, double known_blur) {
  std::vector<cv::Point2d> outline = outline_of(shape, reduction);
  if (outline.size() < 8) return std::nullopt;
  const double room = std::max(1.0, shape.radius * reduction);
  // The first look only says where the edge is; of a long outline a third of the points is enough for that.
  constexpr std::size_t kLong = 120;
  const double coarse = outline.size() > kLong ? 3.0 : 1.0;
  Border border = border_of(resampled(outline, coarse, true), room);
  EdgeSet edges = find_edges(relief, border, known_blur);
  if (share_good(edges) < (shape.at_border ? 0.6 : 1.0) * kLeastShare) return std::nullopt;
  // Chords of two pixels fall short of an arc of 40 pixels radius by 0.04 % of the area.
  constexpr double kFine = 1.0, kFineOfLong = 2.0;
  const double fine = outline.size() > 2 * kLong ? kFineOfLong : kFine;
  outline = resampled(moved(border, offsets_filled(edges)), fine, true);
  border = border_of(smoothed(outline, 1.5 * coarse / fine, true), room);
  edges = find_edges(relief, border, known_blur, edges.shape.blur);
  if (edges.count == 0 || !is_of_one_body(edges.shape)) return std::nullopt;
  const double blur = known_blur > 0.0 ? known_blur : edges.shape.blur;
  Body body;
  body.kind = BodyKind::grain;
  body.at_border = shape.at_border;
  body.rimmed = edges.shape.rimmed;
  body.parted = shape.parted || (!shape.at_border && share_good(edges) < 1.0 - kParted);
  for (const cv::Point2d& at : moved(border, corrected(edges, border, room, blur)))
    body.outline.push_back({at.x, at.y});
  body.at = centroid(body.outline);
  body.edge_blur_px = edges.shape.blur;
  body.edge_noise_px = edges.noise;
  body.edge_length_px = edges.noise_length;
  body.blur_correction_px = edges.shape.correction;
  body.rim_doubt_px = edges.shape.doubt;
  body.round_edge = edges.shape.round;
  body.outside_level = relief.level({body.at.x, body.at.y}, edges.shape.outside);
  body.inside_level = relief.level({body.at.x, body.at.y}, edges.shape.outside + edges.shape.step);
  return body;
}

std::vector<GrainShape> parts_of(const GrainShape& shape) {
  cv::Mat padded, distance;
  cv::copyMakeBorder(shape.mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::distanceTransform(padded, distance, cv::DIST_L2, cv::DIST_MASK_5);
  const std::vector<Peak> tops = tops_of(distance);
  if (tops.size() < 2) return {shape};
  const cv::Mat owner = flooded(distance, tops);
  std::vector<GrainShape> parts;
  for (std::size_t i = 0; i < tops.size(); ++i) {
    GrainShape part = shape;
    const cv::Mat own = owner == static_cast<int>(i) + 1;
    part.mask = own(cv::Rect(1, 1, shape.mask.cols, shape.mask.rows)).clone();
    part.radius = static_cast<double>(tops[i].height);
    part.parted = true;
    parts.push_back(part);
  }
  return parts;
}

}  // namespace scale
