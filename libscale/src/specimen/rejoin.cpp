#include "specimen/rejoin.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <optional>

#include "specimen/fibres.h"
#include "specimen/polyline.h"

namespace scale {
namespace {

constexpr double kFurthest = 25.0;  // widths over which a fibre may be hidden by others
constexpr double kMostTurn = 12.0;  // degrees between both ends
// Over so many widths a fibre may bend by more, evenly: degrees from each end to the way between them; and their
// difference.
constexpr double kNear = 8.0, kMostBend = 25.0, kUneven = 12.0;
constexpr double kInside = 0.6;  // of the way must lie where a fibre may run unseen; ground shows through a mat's gaps
// Widths of one fibre at two places: natural ones vary by some per cent, and an edge is good to a tenth of a pixel.
constexpr double kAlike = 0.03, kAlikePx = 0.2;

cv::Point2d point(const PixelPoint& at) { return {at.x, at.y}; }

struct End {
  cv::Point2d at, outward;
};

// Where the seen part of the middle line ends, and which way it goes there. Tips themselves are hidden.
End end_of(const Body& body, bool front) {
  const auto& path = body.widths;
  const auto middle = [&](std::size_t i) {
    const LocalWidth& local = path[front ? i : path.size() - 1 - i];
    return 0.5 * (point(local.left) + point(local.right));
  };
  std::size_t first = 0;
  while (first + 1 < path.size() && !path[front ? first : path.size() - 1 - first].used) ++first;
  const auto length = static_cast<std::size_t>(std::max(20.0, 3.0 * mean_width(body)));
  std::vector<cv::Point2d> tail;
  for (std::size_t i = first; i < std::min(path.size(), first + length); ++i) tail.push_back(middle(i));
  if (tail.size() < 2) return {middle(first), {0.0, 0.0}};
  const LineFit line = fit_line_through(tail);
  const double sign = (tail.front() - tail.back()).dot(line.direction) < 0.0 ? -1.0 : 1.0;
  return {tail.front(), line.direction * sign};
}

double share_inside(const cv::Mat& ways, const cv::Point2d& from, const cv::Point2d& to, int reduction) {
  return share_of_way(from, to, [&](const cv::Point2d& at) {
    const cv::Point place(std::clamp(static_cast<int>(at.x) / reduction, 0, ways.cols - 1),
                          std::clamp(static_cast<int>(at.y) / reduction, 0, ways.rows - 1));
    return ways.at<std::uint8_t>(place) != 0;
  });
}

// Degrees from one direction to another, positive clockwise as seen.
double turn_between(const cv::Point2d& from, const cv::Point2d& to) {
  return std::atan2(from.cross(to), from.dot(to)) * 180.0 / CV_PI;
}

// How far one end misses the way of the other, in its tolerance; none: they are not of one fibre.
std::optional<double> misfit(const End& a, const End& b, double width, const cv::Mat& ways, int reduction) {
  const cv::Point2d gap = b.at - a.at;
  const double length = cv::norm(gap);
  if (length > kFurthest * width || gap.dot(a.outward) < 0.0 || gap.dot(b.outward) > 0.0) return std::nullopt;
  const double away = turn_between(a.outward, gap), back = turn_between(gap, -b.outward);
  const double tolerance = 0.15 * width + 0.05 * length + 1.0;
  double miss = std::max(std::abs(a.outward.cross(gap)), std::abs(b.outward.cross(gap))) / tolerance;
  if (std::abs(away + back) > kMostTurn) miss = 2.0;
  if (length < kNear * width && std::max(std::abs(away), std::abs(back)) < kMostBend)
    miss = std::min(miss, std::abs(away - back) / kUneven);
  if (miss > 1.0 || share_inside(ways, a.at, b.at, reduction) < kInside) return std::nullopt;
  return miss;
}

void reverse(Body& body) {
  std::reverse(body.centre.begin(), body.centre.end());
  std::reverse(body.widths.begin(), body.widths.end());
  for (LocalWidth& local : body.widths) std::swap(local.left, local.right);
}

PixelPoint between(const PixelPoint& a, const PixelPoint& b, double share) {
  return {a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)};
}

// `after` follows `body` from its back end; what is between them is not measured.
void append(Body& body, const Body& after) {
  const auto seen = [](const Body& of) {
    return std::count_if(of.widths.begin(), of.widths.end(), [](const LocalWidth& local) { return local.used; });
  };
  if (seen(after) > seen(body)) body.at = after.at;
  body.centre.pop_back();
  const PixelPoint from = body.centre.back(), to = after.centre[1];
  const LocalWidth last = body.widths.back(), next = after.widths.front();
  const int steps = static_cast<int>(std::hypot(to.x - from.x, to.y - from.y));
  for (int i = 1; i < steps; ++i) {
    const double share = static_cast<double>(i) / steps;
    body.centre.push_back(between(from, to, share));
    LocalWidth hidden;
    hidden.left = between(last.left, next.left, share), hidden.right = between(last.right, next.right, share);
    hidden.used = false;
    body.widths.push_back(hidden);
  }
  body.centre.insert(body.centre.end(), after.centre.begin() + 1, after.centre.end());
  body.widths.insert(body.widths.end(), after.widths.begin(), after.widths.end());
  body.at_border = body.at_border || after.at_border;
  body.crossed = true;
  body.edge_noise_px = std::max(body.edge_noise_px, after.edge_noise_px);
  body.outline.clear();
  for (const LocalWidth& local : body.widths) body.outline.push_back(local.left);
  for (auto local = body.widths.rbegin(); local != body.widths.rend(); ++local) body.outline.push_back(local->right);
}

// A fibre that may go on somewhere else.
struct Piece {
  std::size_t body = 0;
  double width = 0.0;
  End front, back;
};

std::vector<Piece> pieces_of(const std::vector<Body>& bodies) {
  std::vector<Piece> pieces;
  for (std::size_t i = 0; i < bodies.size(); ++i)
    if (bodies[i].kind == BodyKind::fibre && bodies[i].end_hidden)
      pieces.push_back({i, mean_width(bodies[i]), end_of(bodies[i], true), end_of(bodies[i], false)});
  return pieces;
}

struct Pair {
  double misfit = 0.0;
  std::size_t one = 0, other = 0;  // bodies
  bool at_front = false, other_at_front = false;
};

std::optional<Pair> best_pair(const std::vector<Piece>& pieces, const cv::Mat& ways, int reduction) {
  std::optional<Pair> best;
  for (std::size_t i = 0; i < pieces.size(); ++i)
    for (std::size_t j = i + 1; j < pieces.size(); ++j) {
      const Piece &one = pieces[i], &other = pieces[j];
      if (std::abs(one.width - other.width) > std::max(kAlikePx, kAlike * std::min(one.width, other.width))) continue;
      for (const bool front : {true, false})
        for (const bool other_front : {true, false}) {
          const auto off = misfit(front ? one.front : one.back, other_front ? other.front : other.back,
                                  0.5 * (one.width + other.width), ways, reduction);
          if (off && (!best || *off < best->misfit)) best = Pair{*off, one.body, other.body, front, other_front};
        }
    }
  return best;
}

}  // namespace

void rejoin_fibres(std::vector<Body>& bodies, const cv::Mat& ways, int reduction) {
  while (const auto pair = best_pair(pieces_of(bodies), ways, reduction)) {
    Body& one = bodies[pair->one];
    Body& other = bodies[pair->other];
    if (pair->at_front) reverse(one);
    if (!pair->other_at_front) reverse(other);
    append(one, other);
    bodies.erase(bodies.begin() + static_cast<std::ptrdiff_t>(pair->other));
  }
}

}  // namespace scale
