#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

#include <scale/specimen.h>

#include "image/frame.h"
#include "numeric/robust.h"
#include "specimen/fibres.h"
#include "specimen/grains.h"
#include "specimen/judgement.h"
#include "specimen/marks.h"
#include "specimen/narrow.h"
#include "specimen/rejoin.h"
#include "specimen/shape.h"
#include "specimen/silhouettes.h"

namespace scale {
namespace {

constexpr double kFibreLength = 3.0;    // widths from which on a body alone is a fibre
constexpr double kThroughLength = 2.0;  // the same when it goes from frame to frame
constexpr double kFibreSpread = 0.4;    // quartile range of its width over the median, at most
constexpr double kFibreArea = 0.5;      // share of a silhouette that its fibres must explain
constexpr int kLeastSide = 24;          // pixels of the picture
constexpr int kMostBodies = 20000;      // silhouettes beyond reason: texture, not a specimen

void check(const ImageView& image, const SpecimenOptions& options) {
  if (image.data == nullptr || image.width <= 0 || image.height <= 0)
    throw std::invalid_argument("find_bodies: no picture");
  if (!(options.finding_level > 0.0 && options.finding_level < 1.0))
    throw std::invalid_argument("find_bodies: finding_level must lie between 0 and 1");
  if (options.edge_blur_px < 0.0 || options.least_width_px < 0.0)
    throw std::invalid_argument("find_bodies: blur and least width cannot be negative");
}

// What the frame cuts at both ends is longer than is seen.
bool fibre_like(const Strand& strand, const cv::Mat& mask) {
  const auto at_frame = [&](const cv::Point2d& end) {
    constexpr double kNear = 3.0;
    return std::min({end.x, end.y, mask.cols - 1 - end.x, mask.rows - 1 - end.y}) < kNear;
  };
  const bool through = at_frame(strand.path.front()) && at_frame(strand.path.back());
  const double length = static_cast<double>(strand.path.size()) + (strand.joined ? 0.0 : strand.width);
  return length >= (through ? kThroughLength : kFibreLength) * strand.width && strand.spread < kFibreSpread;
}

struct Search {
  const Relief& relief;
  const Silhouettes& shapes;
  const SpecimenOptions& options;
  cv::Mat marked;  // CV_8U of the picture: drawn marks and what is beside them; empty when there are none
  cv::Mat distance;
  int specks = 0, hidden = 0;
};

GrainShape grain_shape(const Search& search, int label) {
  GrainShape shape;
  const cv::Rect box = search.shapes.parts[label].box;
  shape.mask = search.shapes.parts.labels(box) == label;
  shape.corner = box.tl();
  double most = 0.0;
  cv::minMaxLoc(search.distance(box), nullptr, &most, nullptr, nullptr, shape.mask);
  shape.radius = most;
  shape.at_border =
      box.x == 0 || box.y == 0 || box.br().x == search.shapes.mask.cols || box.br().y == search.shapes.mask.rows;
  if (!search.shapes.stop.empty() && cv::countNonZero(search.shapes.stop(box) & shape.mask) > 0) shape.at_border = true;
  return shape;
}

void add_grains(Search& search, int label, std::vector<Body>& bodies) {
  const GrainShape whole = grain_shape(search, label);
  const int reduction = search.shapes.reduction;
  for (const GrainShape& shape : search.options.part ? parts_of(whole) : std::vector<GrainShape>{whole}) {
    if (2.0 * shape.radius * reduction < 0.75 * search.options.least_width_px) {
      ++search.specks;
      continue;
    }
    auto body = outline_grain(search.relief, shape, reduction, search.options.edge_blur_px);
    body ? bodies.push_back(std::move(*body)) : static_cast<void>(++search.hidden);
  }
}

// A drawn mark over an edge, or along it, is no edge. False: nothing of the fibre is left.
bool leave_out_marked(Body& fibre, const cv::Mat& marked) {
  if (marked.empty()) return true;
  const auto covers = [&](const PixelPoint& at) {
    const cv::Point place(cvRound(at.x), cvRound(at.y));
    return cv::Rect({}, marked.size()).contains(place) && marked.at<std::uint8_t>(place) != 0;
  };
  for (LocalWidth& local : fibre.widths) local.used = local.used && !covers(local.left) && !covers(local.right);
  fibre.crossed = fibre.crossed || std::any_of(fibre.centre.begin(), fibre.centre.end(), covers);
  return std::any_of(fibre.widths.begin(), fibre.widths.end(), [](const LocalWidth& local) { return local.used; });
}

void add_fibres(Search& search, const std::vector<const Strand*>& strands, std::vector<Body>& bodies) {
  for (const Strand* strand : strands) {
    auto body = outline_fibre(search.relief, *strand, search.shapes.reduction, search.options.edge_blur_px);
    if (body && leave_out_marked(*body, search.marked))
      bodies.push_back(std::move(*body));
    else
      ++search.hidden;
  }
}

// What is beside a mark within the reach of an edge's profile.
cv::Mat beside_marks(const cv::Mat& marks) {
  cv::Mat marked;
  constexpr int kReach = 4;  // pixels
  if (!marks.empty()) cv::dilate(marks, marked, cv::Mat::ones(2 * kReach + 1, 2 * kReach + 1, CV_8U));
  return marked;
}

// Fibres by the first label of the silhouettes they lie in; the others of those silhouettes have none of their own.
std::map<int, std::vector<const Strand*>> fibres_by_label(const std::vector<Strand>& strands, const Search& search) {
  std::map<int, int> first;  // of every label that fibres go on in
  const auto first_of = [&](int label) {
    for (auto at = first.find(label); at != first.end(); at = first.find(label)) label = at->second;
    return label;
  };
  for (const Strand& strand : strands)
    for (const int label : strand.further)
      if (first_of(label) != first_of(strand.label)) first[first_of(label)] = first_of(strand.label);
  std::map<int, std::vector<const Strand*>> result;
  std::map<int, double> explained, area;
  for (const Strand& strand : strands) {
    if (!fibre_like(strand, search.shapes.mask)) continue;
    const int label = first_of(strand.label);
    result[label].push_back(&strand);
    explained[label] += (static_cast<double>(strand.path.size()) + strand.width) * strand.width;
  }
  for (const auto& [label, share] : explained) area[label] = search.shapes.parts[label].area;
  for (const auto& [label, next] : first)
    if (area.contains(first_of(label))) area[first_of(label)] += search.shapes.parts[label].area;
  for (const auto& [label, share] : explained)
    if (share < kFibreArea * area[label]) result.erase(label);
  for (const auto& [label, next] : first)
    if (result.contains(first_of(label))) result[label];
  return result;
}

std::vector<Body> bodies_of(Search& search) {
  std::vector<Body> bodies;
  std::map<int, std::vector<const Strand*>> fibres;
  std::vector<Strand> strands;
  if (search.options.wanted == BodyWanted::grains) {
    search.distance = distance_of(search.shapes.mask);
  } else {
    const Skeleton skeleton = skeleton_of(search.shapes.mask, search.shapes.parts.labels);
    search.distance = skeleton.distance;
    strands = strands_of(skeleton, search.shapes.mask, search.shapes.cover);
    fibres = fibres_by_label(strands, search);
  }
  const double least = search.options.least_width_px / search.shapes.reduction;
  for (int label = 1; label <= search.shapes.parts.count(); ++label) {
    const auto found = fibres.find(label);
    if (found != fibres.end())
      add_fibres(search, found->second, bodies);
    else if (search.shapes.parts[label].area < 0.5 * least * least)
      ++search.specks;
    else if (search.options.wanted != BodyWanted::fibres)
      add_grains(search, label, bodies);
  }
  return bodies;
}

}  // namespace

void move_bodies(std::vector<Body>& bodies, double dx, double dy) {
  const auto move = [&](PixelPoint& point) { point.x += dx, point.y += dy; };
  for (Body& body : bodies) {
    move(body.at);
    for (PixelPoint& point : body.outline) move(point);
    for (PixelPoint& point : body.centre) move(point);
    for (LocalWidth& local : body.widths) move(local.left), move(local.right);
  }
}

SpecimenReading find_bodies(const ImageView& whole, const SpecimenOptions& options) {
  check(whole, options);
  SpecimenReading reading;
  reading.width = whole.width, reading.height = whole.height;
  const cv::Rect part = without_drawn_frame(whole);
  if (std::min(part.width, part.height) < kLeastSide) {
    const std::string least = std::to_string(kLeastSide);
    reading.failure =
        Failure{"frame", "too-small",
                "what is looked at has " + std::to_string(part.width) + " x " + std::to_string(part.height) +
                    " pixels, too few to look for bodies; give a picture "
                    "or a --region of " +
                    least + " x " + least + " or more"};
    return reading;
  }
  const ImageView image = crop(whole, part.x, part.y, part.width, part.height);
  if ((reading.failure = unusable_samples(image))) return reading;
  const FrameStatistics frame = frame_statistics(image);
  reading.noise = frame.noise, reading.saturated_share = frame.saturated_share;
  const Ground ground = ground_of(image);
  const DrawnMarks marks = drawn_marks(image, frame.noise);
  const Silhouettes shapes = silhouettes_of(image, ground, marks.mask, frame.noise, options);
  reading.bodies_dark = shapes.dark;
  if ((reading.failure = no_bodies(image, frame, shapes, kMostBodies))) return reading;
  const Relief relief(image, ground, shapes.dark);
  Search search{relief, shapes, options, beside_marks(marks.mask), {}, 0, 0};
  reading.bodies = bodies_of(search);
  rejoin_fibres(reading.bodies, shapes.mask | shapes.cover, shapes.reduction);
  judge(reading, options, {search.specks, search.hidden, marks.count, shapes.other_share});
  move_bodies(reading.bodies, part.x, part.y);
  return reading;
}

}  // namespace scale
