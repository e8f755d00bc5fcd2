#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <opencv2/imgproc.hpp>
#include <set>
#include <stdexcept>

#include <scale/specimen.h>

#include "image/frame.h"
#include "numeric/robust.h"
#include "specimen/doubts.h"
#include "specimen/fibres.h"
#include "specimen/followed.h"
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

// A line that comes back to where it began is the wall of a hollow grain or of a bubble; so is a bow that ends in
// others at both ends, where such grains touch.
bool is_ring(const Strand& strand) {
  constexpr double kBow = 0.5, kShort = 40.0;  // of its length; widths: longer ones may be curled fibres
  const double length = static_cast<double>(strand.path.size());
  if (strand.front_hidden && strand.back_hidden && length < kShort * strand.width &&
      cv::norm(strand.path.front() - strand.path.back()) < kBow * length)
    return true;
  return !strand.joined && !strand.front_hidden && !strand.back_hidden &&
         cv::norm(strand.path.front() - strand.path.back()) < strand.width;
}

// What the frame cuts at both ends is longer than is seen.
bool fibre_like(const Strand& strand, const cv::Mat& mask) {
  const auto at_frame = [&](const cv::Point2d& end) {
    constexpr double kNear = 3.0;
    return std::min({end.x, end.y, mask.cols - 1 - end.x, mask.rows - 1 - end.y}) < kNear;
  };
  if (is_ring(strand)) return false;
  const cv::Point2d &front = strand.path.front(), &back = strand.path.back();
  const bool through = at_frame(front) && at_frame(back);
  // A short bow from frame to frame, and all the more from one side back to it, is the wall of a hollow grain that the
  // frame cuts.
  constexpr double kBow = 0.75, kSameSide = 0.93, kShort = 12.0;  // of its length; widths
  // The middle line of a wall that meets the frame aslant ends before it.
  const double near_side = std::max(3.0, 0.75 * strand.width);
  const auto both_near = [&](double a, double b) { return a < near_side && b < near_side; };
  const bool same_side = both_near(front.x, back.x) || both_near(front.y, back.y) ||
                         both_near(mask.cols - 1 - front.x, mask.cols - 1 - back.x) ||
                         both_near(mask.rows - 1 - front.y, mask.rows - 1 - back.y);
  const double path = static_cast<double>(strand.path.size());
  if ((through || same_side) && cv::norm(front - back) < (same_side ? kSameSide : kBow) * path &&
      path < kShort * strand.width)
    return false;
  constexpr double kLoop = 0.5, kLong = 25.0;  // likewise
  if (same_side && cv::norm(front - back) < kLoop * path && path < kLong * strand.width) return false;
  const double length = path + (strand.joined ? 0.0 : strand.width);
  return length >= (through ? kThroughLength : kFibreLength) * strand.width && strand.spread < kFibreSpread;
}

struct Search {
  const Relief& relief;
  const Silhouettes& shapes;
  const SpecimenOptions& options;
  cv::Mat marked;  // CV_8U of the picture: drawn marks and what is beside them; empty when there are none
  cv::Mat distance;
  std::set<int> cut_along;  // labels of silhouettes that are long though no fibre: the frame cuts a fibre along it
  int specks = 0, hidden = 0, bundles = 0;
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

// The hull of a silhouette, and how much of its area lies within the outline; holes count as within.
struct Outer {
  std::vector<cv::Point> hull;
  double area = 0.0, share = 1.0;
};

Outer outer_of(const GrainShape& shape) {
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(shape.mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  Outer outer;
  cv::convexHull(contours.front(), outer.hull);
  outer.area = cv::contourArea(contours.front());
  if (const double whole = cv::contourArea(outer.hull); whole > 0.0) outer.share = outer.area / whole;
  return outer;
}

// Would it be parted? A hollow one has a neck all around: what its outline encloses is asked.
bool has_neck(GrainShape shape) {
  constexpr double kRound = 0.97;  // of the hull: no neck fits in what is missing, and most grains need no second look
  if (outer_of(shape).share >= kRound) return false;
  std::vector<std::vector<cv::Point>> contours;
  shape.mask = shape.mask.clone();
  cv::findContours(shape.mask, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  cv::drawContours(shape.mask, contours, -1, cv::Scalar(255), cv::FILLED);
  return parts_of(shape).size() > 1;
}

// Fibres that could not be followed hang together as something long or as a net, which is no grain: its widest place is
// small against it. So is that of a ring, but its outline is neither long nor hollow.
bool is_net(const GrainShape& shape, int area) {
  constexpr double kMost = 8.0;  // areas of the largest disc within: an ellipse eight times as long as wide has as many
  constexpr double kHollow = 0.7;  // of the hull's area
  constexpr float kLong = 4.0F;    // of its breadth
  if (area < kMost * CV_PI * shape.radius * shape.radius) return false;
  const Outer outer = outer_of(shape);
  const cv::Size2f box = cv::minAreaRect(outer.hull).size;
  return outer.share < kHollow || std::max(box.width, box.height) > kLong * std::min(box.width, box.height);
}

void add_grains(Search& search, int label, std::vector<Body>& bodies) {
  const GrainShape whole = grain_shape(search, label);
  const bool cut_along = whole.at_border && search.cut_along.contains(label);
  if (search.options.wanted == BodyWanted::either && (cut_along || is_net(whole, search.shapes.parts[label].area))) {
    ++search.hidden;
    return;
  }
  const int reduction = search.shapes.reduction;
  for (const GrainShape& shape : search.options.part ? parts_of(whole) : std::vector<GrainShape>{whole}) {
    if (2.0 * shape.radius * reduction < 0.75 * search.options.least_width_px) {
      ++search.specks;
      continue;
    }
    auto body = outline_grain(search.relief, shape, reduction, search.options.edge_blur_px);
    if (body) body->necked = !search.options.part && has_neck(shape);
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
    if (strand->bundle) {
      ++search.bundles;
      continue;
    }
    auto body = outline_fibre(search.relief, *strand, search.shapes.reduction, search.options.edge_blur_px);
    if (!body || !leave_out_marked(*body, search.marked) || is_core(*body, search.shapes)) {
      ++search.hidden;
      continue;
    }
    body->line_beside = may_be_a_side(*body, search.shapes);
    bodies.push_back(std::move(*body));
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
    for (const Strand& strand : strands)
      if (!is_ring(strand) && strand.spread >= kFibreSpread &&
          static_cast<double>(strand.path.size()) > kFibreLength * strand.width)
        search.cut_along.insert(strand.label);
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
  const bool large = std::min(whole.width, whole.height) >= kLeastSide;  // else its own size is what is told
  const cv::Rect part = large ? without_drawn_frame(whole) : cv::Rect(0, 0, whole.width, whole.height);
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
  Search search{relief, shapes, options, beside_marks(marks.mask), {}, {}, 0, 0};
  reading.bodies = bodies_of(search);
  const int drawn = marks.count + leave_out_drawn(reading.bodies, image);
  rejoin_fibres(reading.bodies, shapes.mask | shapes.cover, shapes.reduction);
  for (Body& body : reading.bodies) {
    body.bubble_like = looks_like_bubble(body, relief);
    body.line_inside = has_line_inside(body, relief);
  }
  judge(reading, options, {search.specks, search.hidden, search.bundles, drawn, shapes.other_share});
  move_bodies(reading.bodies, part.x, part.y);
  return reading;
}

}  // namespace scale
