#include "specimen/strands.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <utility>

#include "specimen/polyline.h"

namespace scale {
namespace {

constexpr double kCutBack = 1.25;          // radii of a meeting within which middle lines are bent by it
constexpr double kTurn = 15.0;             // degrees: standard deviation of the turn over a crossing
constexpr double kMostTurn = 40.0;         // degrees
constexpr double kWidthRatio = 0.2;        // likewise of the logarithm of the widths' ratio
constexpr double kWorstJoint = 12.0;       // sum of four squares, each of a standard normal when the joint is right
constexpr double kOtherWidth = 1.5;        // ratio of widths from which on a piece is of two fibres
constexpr double kFurthest = 25.0;         // widths over which a fibre may be hidden by others
constexpr double kWithinSilhouette = 0.7;  // of the way between two ends; edges of other fibres may cut it

struct End {
  std::size_t piece = 0;
  bool at_front = false;
  cv::Point2d at, outward;
  bool meeting = false;  // it was cut back from a junction; a free end of a fibre joins nothing
  bool covered = false;  // something of the other tone lies before it
};

struct Piece {
  std::vector<cv::Point2d> path;
  double width = 0.0;
  int label = 0;
  bool start_meets = false, end_meets = false;
  // Something of the other tone lies before that end; and so many of its samples are bent towards a corner of the cut.
  bool start_covered = false, end_covered = false;
  std::size_t start_bent = 0, end_bent = 0;
  bool bundle = false;  // several fibres side by side
};

double distance_at(const cv::Mat& distance, cv::Point2d at) {
  const cv::Point place(std::clamp(cvRound(at.x), 0, distance.cols - 1),
                        std::clamp(cvRound(at.y), 0, distance.rows - 1));
  return static_cast<double>(distance.at<float>(place));
}

double typical_width(const cv::Mat& distance, const std::vector<cv::Point2d>& path) {
  std::vector<double> widths;
  for (const cv::Point2d& at : path) widths.push_back(2.0 * distance_at(distance, at));
  std::nth_element(widths.begin(), widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 2), widths.end());
  return widths[widths.size() / 2];
}

Piece cut_back(const SkeletonPiece& from, const Skeleton& skeleton) {
  Piece piece;
  piece.label = from.label;
  piece.start_meets = from.start >= 0, piece.end_meets = from.end >= 0;
  const auto clear = [&](const cv::Point& at, int junction) {
    if (junction < 0) return true;
    const Junction& meeting = skeleton.junctions[static_cast<std::size_t>(junction)];
    return cv::norm(cv::Point2d(at) - meeting.at) > kCutBack * meeting.radius + 1.0;
  };
  std::size_t first = 0, last = from.path.size();
  while (first < last && !clear(from.path[first], from.start)) ++first;
  while (last > first && !clear(from.path[last - 1], from.end)) --last;
  for (std::size_t i = first; i < last; ++i) piece.path.emplace_back(from.path[i]);
  if (!piece.path.empty()) piece.width = typical_width(skeleton.distance, piece.path);
  return piece;
}

// Where a piece that begins with the width of one fibre goes over into the end of a much thicker one, which swallowed
// it: how many of its samples, from the front, are still the thin one's; all of them when it is of one fibre.
std::size_t length_of_thin(const std::vector<cv::Point2d>& path, const cv::Mat& distance) {
  constexpr std::size_t kLeast = 8;  // samples
  if (path.size() < kLeast) return path.size();
  std::vector<double> width;
  for (const cv::Point2d& at : path) width.push_back(2.0 * distance_at(distance, at));
  std::size_t thick = width.size();
  // From the far end back while it is thick; what is thin and thick by turns is of neither kind.
  const double own =
      typical_width(distance, {path.begin(), path.begin() + static_cast<std::ptrdiff_t>(path.size() / 2)});
  while (thick > 0 && width[thick - 1] > kOtherWidth * own) --thick;
  if (thick == width.size()) return width.size();
  // The middle line bends before it is inside: back to where it is as wide as before, and a width more.
  constexpr double kAsBefore = 1.1;
  while (thick > 0 && width[thick - 1] > kAsBefore * own) --thick;
  const auto more = static_cast<std::size_t>(own);
  constexpr double kFibreLike = 3.0;  // widths: a shorter one is a dent of the thick one's outline
  return thick > more && static_cast<double>(thick - more) > kFibreLike * own ? thick - more : width.size();
}

// A piece as far as it is of one fibre: the end that lies in a thicker one is cut off, and meets it there.
Piece of_one_fibre(Piece piece, const cv::Mat& distance) {
  for (const bool at_front : {true, false}) {
    bool& meets = at_front ? piece.start_meets : piece.end_meets;
    if (!meets || piece.path.empty()) continue;
    if (at_front) std::reverse(piece.path.begin(), piece.path.end());
    piece.path.resize(length_of_thin(piece.path, distance));
    if (at_front) std::reverse(piece.path.begin(), piece.path.end());
  }
  if (!piece.path.empty()) piece.width = typical_width(distance, piece.path);
  return piece;
}

// Short pieces between meetings have no direction of their own, and short ones with a free end are dents of the
// outline.
bool worth_following(const Piece& piece) {
  if (piece.path.size() < 4) return false;
  const double length = static_cast<double>(piece.path.size());
  if (piece.start_meets && piece.end_meets) return length > 0.8 * piece.width;
  if (piece.start_meets || piece.end_meets) return length > 0.35 * piece.width;
  return true;
}

End end_of(const Piece& piece, std::size_t index, bool at_front) {
  End end{index,
          at_front,
          {},
          {},
          at_front ? piece.start_meets : piece.end_meets,
          at_front ? piece.start_covered : piece.end_covered};
  const std::size_t bent = at_front ? piece.start_bent : piece.end_bent;
  const auto wanted = static_cast<std::size_t>(std::max(10.0, 2.0 * piece.width));
  std::vector<cv::Point2d> tail;
  for (std::size_t i = bent; i < std::min(piece.path.size(), bent + wanted); ++i)
    tail.push_back(at_front ? piece.path[i] : piece.path[piece.path.size() - 1 - i]);
  const LineFit line = fit_line_through(tail);
  end.outward = line.direction;
  if ((tail.front() - tail.back()).dot(end.outward) < 0.0) end.outward = -end.outward;
  end.at = line.centre + end.outward * (tail.front() - line.centre).dot(end.outward);
  return end;
}

// Where a fibre may run unseen: within the silhouettes, and under what lies over it as well.
struct Ways {
  const cv::Mat& mask;
  cv::Mat cover, covered;  // covered: mask or cover
};

// Does something of the other tone lie right beyond the silhouette's end ahead?
bool is_covered(const End& end, double width, const cv::Mat& mask, const cv::Mat& cover) {
  // Widths: the middle line of a blunt end forks to its corners, and is cut back from there. Samples of an edge's
  // slope.
  constexpr double kAhead = 1.75, kSlope = 6.0;
  const cv::Rect frame({}, mask.size());
  double left = -1.0;  // where the way leaves the silhouette
  for (double t = 0.0; left < 0.0 ? t < kAhead * width : t < left + kSlope; t += 1.0) {
    const cv::Point2d at = end.at + end.outward * t;
    const cv::Point place(cvRound(at.x), cvRound(at.y));
    if (!frame.contains(place)) return false;
    if (left < 0.0 && mask.at<std::uint8_t>(place) == 0) left = t;
    if (left >= 0.0 && cover.at<std::uint8_t>(place) != 0) return true;
  }
  return false;
}

void mark_covered_ends(Piece& piece, const Ways& ways) {
  for (const bool at_front : {true, false}) {
    if (!is_covered(end_of(piece, 0, at_front), piece.width, ways.mask, ways.cover)) continue;
    (at_front ? piece.start_covered : piece.end_covered) = true;
    // A cut that slants draws the middle line into its sharp corner; one that met others was cut back already.
    constexpr double kBent = 1.25;  // widths
    const auto bent = static_cast<std::size_t>(kBent * piece.width);
    const bool meets = at_front ? piece.start_meets : piece.end_meets;
    if (!meets && piece.path.size() > 3 * bent) (at_front ? piece.start_bent : piece.end_bent) = bent;
  }
}

// Do narrower pieces go on side by side where this one ends: two that are together as wide, or one of two?
bool parts_ahead(const End& end, const Piece& piece, const std::vector<End>& ends, const std::vector<Piece>& pieces) {
  constexpr double kNarrower = 0.9, kAhead = 3.0, kAside = 1.0;     // of its width
  constexpr double kLeast = 0.8, kMost = 1.3;                       // of its width: that of both together
  constexpr double kApart = 0.35;                                   // of both widths: else one crosses the other
  const double turn = std::cos(25.0 * CV_PI / 180.0);               // less than fibres that cross
  constexpr double kFlush = 0.12, kThinner = 0.8, kThinnest = 0.2;  // of its width
  std::vector<std::pair<double, double>> parts;                     // aside of its way; width
  for (const End& other : ends) {
    const Piece& part = pieces[other.piece];
    const cv::Point2d gap = other.at - end.at;
    if (!other.meeting || part.label != piece.label || part.width > kNarrower * piece.width) continue;
    if (-other.outward.dot(end.outward) < turn || cv::norm(gap) > kAhead * piece.width) continue;
    const double aside = end.outward.cross(gap);
    if (gap.dot(end.outward) < 0.0 || std::abs(aside) >= kAside * piece.width) continue;
    parts.emplace_back(aside, part.width);
    // One alone goes on, flush with one edge, and another ended beside it.
    const double step = 0.5 * (piece.width - part.width) - std::abs(aside);
    if (part.width < kThinner * piece.width && part.width > kThinnest * piece.width &&
        std::abs(step) < kFlush * piece.width)
      return true;
  }
  for (const auto& [aside, width] : parts)
    for (const auto& [other_aside, other_width] : parts) {
      const double both = width + other_width;
      if (other_aside - aside > kApart * both && both > kLeast * piece.width && both < kMost * piece.width) return true;
    }
  return false;
}

void mark_bundles(std::vector<Piece>& pieces) {
  std::vector<End> ends;
  for (std::size_t i = 0; i < pieces.size(); ++i)
    for (const bool front : {true, false}) ends.push_back(end_of(pieces[i], i, front));
  for (const End& end : ends)
    if (end.meeting && parts_ahead(end, pieces[end.piece], ends, pieces)) pieces[end.piece].bundle = true;
}

double share_inside(const cv::Mat& mask, const cv::Point2d& from, const cv::Point2d& to) {
  return share_of_way(from, to, [&](const cv::Point2d& at) {
    const cv::Point place(std::clamp(cvRound(at.x), 0, mask.cols - 1), std::clamp(cvRound(at.y), 0, mask.rows - 1));
    return mask.at<std::uint8_t>(place) != 0;
  });
}

// How unlikely it is that one fibre has both ends; above kWorstJoint: it does not.
double cost_of(const End& a, const End& b, const std::vector<Piece>& pieces, const Ways& ways) {
  constexpr double kNever = 1e9;
  const Piece& one = pieces[a.piece];
  const Piece& other = pieces[b.piece];
  const bool over = a.covered && b.covered;
  if (a.piece == b.piece || (one.label != other.label && !over)) return kNever;
  const double width = 0.5 * (one.width + other.width);
  const cv::Point2d gap = b.at - a.at;
  const double length = cv::norm(gap);
  if (length > kFurthest * width) return kNever;
  const double turn = std::acos(std::clamp(-a.outward.dot(b.outward), -1.0, 1.0)) * 180.0 / CV_PI;
  if (turn > kMostTurn || gap.dot(a.outward) < -0.3 * width || -gap.dot(b.outward) < -0.3 * width) return kNever;
  // A fibre that bends evenly misses the straight way on by the same to the same side at both ends.
  const double tolerance = 0.15 * width + 0.07 * length + 1.0;
  const double miss_a = a.outward.cross(gap), miss_b = b.outward.cross(gap);
  constexpr double kEvenly = 2.0;
  const double even = 0.5 * (miss_a + miss_b) / (kEvenly * tolerance), uneven = 0.5 * (miss_a - miss_b) / tolerance;
  const double ratio = std::log(one.width / other.width) / kWidthRatio;
  const double cost =
      2.0 * (even * even + uneven * uneven) + std::pow(turn / kTurn, 2) + ratio * ratio + 0.06 * length / width;
  if (cost > kWorstJoint || share_inside(ways.covered, a.at, b.at) < kWithinSilhouette) return kNever;
  return cost;
}

struct Joint {
  double cost = 0.0;
  std::size_t a = 0, b = 0;  // ends: two a piece, front and back
};

std::vector<Joint> joints_of(const std::vector<Piece>& pieces, const Ways& ways) {
  constexpr int kCovered = -1;  // beside the labels: what is covered may go on in another silhouette
  std::map<int, std::vector<std::size_t>> groups;
  std::vector<End> ends;
  for (std::size_t i = 0; i < pieces.size(); ++i)
    for (const bool front : {true, false}) {
      const End end = end_of(pieces[i], i, front);
      if (end.meeting && !pieces[i].bundle) groups[pieces[i].label].push_back(ends.size());
      if (end.covered && !pieces[i].bundle) groups[kCovered].push_back(ends.size());
      ends.push_back(end);
    }
  std::vector<Joint> joints;
  for (const auto& [label, members] : groups)
    for (std::size_t i = 0; i < members.size(); ++i)
      for (std::size_t j = i + 1; j < members.size(); ++j) {
        const double cost = cost_of(ends[members[i]], ends[members[j]], pieces, ways);
        if (cost <= kWorstJoint) joints.push_back({cost, members[i], members[j]});
      }
  std::stable_sort(joints.begin(), joints.end(), [](const Joint& a, const Joint& b) { return a.cost < b.cost; });
  return joints;
}

// The partner of every end, or itself.
std::vector<std::size_t> partners_of(const std::vector<Piece>& pieces, const Ways& ways) {
  std::vector<std::size_t> partner(2 * pieces.size()), chain(pieces.size());
  std::iota(partner.begin(), partner.end(), 0U);
  std::iota(chain.begin(), chain.end(), 0U);
  for (const Joint& joint : joints_of(pieces, ways)) {
    const std::size_t one = chain[joint.a / 2], other = chain[joint.b / 2];
    if (partner[joint.a] != joint.a || partner[joint.b] != joint.b || one == other) continue;
    partner[joint.a] = joint.b, partner[joint.b] = joint.a;
    for (std::size_t& member : chain)
      if (member == other) member = one;
  }
  return partner;
}

// Which points of the path lie where a piece does; both run the same way.
std::vector<bool> near(const std::vector<cv::Point2d>& path, const std::vector<cv::Point2d>& pieces) {
  std::vector<bool> result;
  std::size_t at = 0;
  for (const cv::Point2d& point : path) {
    while (at + 1 < pieces.size() && cv::norm(pieces[at + 1] - point) <= cv::norm(pieces[at] - point)) ++at;
    result.push_back(cv::norm(pieces[at] - point) < 2.0);
  }
  return result;
}

Strand strand_from(std::size_t first_end, const std::vector<Piece>& pieces, const std::vector<std::size_t>& partner,
                   std::vector<bool>& taken, const cv::Mat& distance) {
  Strand strand;
  std::vector<cv::Point2d> own;
  strand.front_hidden = first_end % 2 == 0 ? pieces[first_end / 2].start_meets : pieces[first_end / 2].end_meets;
  for (std::size_t end = first_end;;) {
    const Piece& piece = pieces[end / 2];
    taken[end / 2] = true;
    const bool forward = end % 2 == 0;  // even ends are fronts
    const std::size_t start = partner[end & ~std::size_t{1}] != (end & ~std::size_t{1}) ? piece.start_bent : 0;
    const std::size_t last = piece.path.size() - (partner[end | 1U] != (end | 1U) ? piece.end_bent : 0);
    for (std::size_t i = start; i < last; ++i)
      own.push_back(forward ? piece.path[i] : piece.path[start + last - 1 - i]);
    const std::size_t far = end ^ 1U;
    if (end == first_end) strand.label = piece.label, strand.bundle = piece.bundle;
    if (piece.label != strand.label) strand.further.push_back(piece.label);
    strand.back_hidden = forward ? piece.end_meets : piece.start_meets;
    if (partner[far] == far) break;
    strand.joined = true;
    end = partner[far];
  }
  std::vector<double> widths;
  for (const cv::Point2d& at : own) widths.push_back(2.0 * distance_at(distance, at));
  std::sort(widths.begin(), widths.end());
  strand.width = widths[widths.size() / 2];
  strand.spread = (widths[widths.size() * 3 / 4] - widths[widths.size() / 4]) / std::max(strand.width, 1e-9);
  strand.path = resampled(own, 1.0);
  strand.clear = near(strand.path, own);
  strand.path = smoothed(strand.path, std::max(3.0, 0.5 * strand.width));
  return strand;
}

}  // namespace

std::vector<Strand> strands_of(const Skeleton& skeleton, const cv::Mat& mask, const cv::Mat& cover) {
  const Ways ways{mask, cover, mask | cover};
  std::vector<Piece> pieces;
  for (const SkeletonPiece& from : skeleton.pieces) {
    Piece piece = of_one_fibre(cut_back(from, skeleton), skeleton.distance);
    if (!worth_following(piece)) continue;
    mark_covered_ends(piece, ways);
    pieces.push_back(std::move(piece));
  }
  mark_bundles(pieces);
  const std::vector<std::size_t> partner = partners_of(pieces, ways);
  std::vector<bool> taken(pieces.size(), false);
  std::vector<Strand> strands;
  for (std::size_t end = 0; end < partner.size(); ++end)
    if (!taken[end / 2] && partner[end] == end)
      strands.push_back(strand_from(end, pieces, partner, taken, skeleton.distance));
  return strands;
}

}  // namespace scale
