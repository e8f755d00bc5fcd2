#include "specimen/skeleton.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace scale {
namespace {

constexpr int kBeyond = 12;           // samples the silhouettes are taken to go on outside the frame
constexpr float kRidgeSlope = 0.65F;  // of the distance: 1 on a flank, 0.71 on the ridge of a right-angled corner

// The eight neighbours in order round the sample; the even ones share a side with it.
constexpr std::array<int, 8> kX = {1, 1, 0, -1, -1, -1, 0, 1};
constexpr std::array<int, 8> kY = {0, 1, 1, 1, 0, -1, -1, -1};

// May the middle be taken away when these neighbours are set? Set ones joined over sides and corners must be one group,
// empty ones that share a side with the middle must be there and be joined over sides round it.
bool is_simple(unsigned neighbours) {
  const auto set = [&](int i) { return (neighbours >> (static_cast<unsigned>(i) & 7U) & 1U) != 0; };
  // Crossing number of Yokoi: sum over sides of (empty side) minus (empty side, corner and next side all empty).
  int groups = 0;
  for (int i = 0; i < 8; i += 2) groups += !set(i) && (set(i + 1) || set(i + 2));
  return groups == 1;
}

std::array<bool, 256> simple_table() {
  std::array<bool, 256> table{};
  for (unsigned i = 0; i < table.size(); ++i) table[i] = is_simple(i);
  return table;
}

struct Offsets {
  explicit Offsets(std::ptrdiff_t row) {
    for (std::size_t i = 0; i < 8; ++i) at[i] = kY[i] * row + kX[i];
  }
  std::array<std::ptrdiff_t, 8> at{};
};

unsigned neighbours_of(const std::uint8_t* sample, const Offsets& offsets) {
  unsigned bits = 0;
  for (unsigned i = 0; i < 8; ++i) bits |= static_cast<unsigned>(sample[offsets.at[i]] != 0) << i;
  return bits;
}

bool on_ridge(const float* distance, std::ptrdiff_t row) {
  const float dx = 0.5F * (distance[1] - distance[-1]), dy = 0.5F * (distance[row] - distance[-row]);
  return *distance >= 2.0F && dx * dx + dy * dy < kRidgeSlope * kRidgeSlope;
}

// Thins `mask` (with an empty rim of one sample) in place.
void thin(cv::Mat& mask, const cv::Mat& distance) {
  static const std::array<bool, 256> simple = simple_table();
  const Offsets offsets(static_cast<std::ptrdiff_t>(mask.step));
  const auto row = static_cast<std::ptrdiff_t>(distance.step / sizeof(float));
  constexpr float kPerLevel = 4.0F;
  std::vector<std::uint32_t> places, begins;  // by level: one array, and where each level begins in it
  const auto each = [&](const auto& visit) {
    for (int y = 1; y + 1 < mask.rows; ++y) {
      const std::uint8_t* set = mask.ptr<std::uint8_t>(y);
      const float* away = distance.ptr<float>(y);
      for (int x = 1; x + 1 < mask.cols; ++x)
        if (set[x] != 0)
          visit(static_cast<std::size_t>(away[x] * kPerLevel), static_cast<std::uint32_t>(y * mask.cols + x));
    }
  };
  each([&](std::size_t level, std::uint32_t) {
    if (level + 2 > begins.size()) begins.resize(level + 2, 0);
    ++begins[level + 1];
  });
  for (std::size_t i = 1; i < begins.size(); ++i) begins[i] += begins[i - 1];
  places.resize(begins.empty() ? 0 : begins.back());
  std::vector<std::uint32_t> next = begins;  // free place of each level
  each([&](std::size_t level, std::uint32_t place) { places[next[level]++] = place; });
  const auto* distances = distance.ptr<float>();
  std::uint8_t* samples = mask.data;
  const auto columns = static_cast<std::uint32_t>(mask.cols);
  for (std::size_t level = 0; level + 1 < begins.size(); ++level)
    // Twice: what could not go at first may when its neighbours went.
    for (int pass = 0; pass < 2; ++pass)
      for (std::size_t i = begins[level]; i < begins[level + 1]; ++i) {
        const std::uint32_t place = places[i];
        const std::uint32_t y = place / columns, x = place % columns;
        std::uint8_t* sample = samples + y * mask.step + x;
        if (*sample == 0 || !simple[neighbours_of(sample, offsets)]) continue;
        const float* here = distances + y * row + x;
        if (!on_ridge(here, row)) *sample = 0;
      }
}

// Does a line end here? Its end may be two samples wide; taken away from its front, such a line would go to its last
// sample.
bool is_end(unsigned neighbours) {
  const unsigned turned = (neighbours << 1U | neighbours >> 7U) & 255U;
  const int count = __builtin_popcount(neighbours);
  return count < 2 || (count == 2 && (neighbours & turned) != 0);
}

// A second thinning without any ridge to keep makes two-sample lines one wide; ends stay.
void make_lines(cv::Mat& mask) {
  static const std::array<bool, 256> simple = simple_table();
  const Offsets offsets(static_cast<std::ptrdiff_t>(mask.step));
  for (int y = 1; y + 1 < mask.rows; ++y)
    for (std::uint8_t *sample = mask.ptr<std::uint8_t>(y) + 1, *end = sample + mask.cols - 2; sample < end; ++sample) {
      if (*sample == 0) continue;
      const unsigned around = neighbours_of(sample, offsets);
      if (simple[around] && !is_end(around)) *sample = 0;
    }
}

class Tracer {
 public:
  Tracer(const cv::Mat& lines, const cv::Mat& labels, Skeleton& skeleton)
      : labels_(labels),
        skeleton_(skeleton),
        kind_(lines.size(), CV_8U, cv::Scalar(0)),
        junction_(lines.size(), CV_32S, cv::Scalar(-1)) {
    const Offsets offsets(static_cast<std::ptrdiff_t>(lines.step));
    for (int y = 1; y + 1 < lines.rows; ++y)
      for (int x = 1; x + 1 < lines.cols; ++x) {
        const std::uint8_t* sample = lines.ptr<std::uint8_t>(y) + x;
        if (*sample == 0) continue;
        kind_.at<std::uint8_t>(y, x) = __builtin_popcount(neighbours_of(sample, offsets)) > 2 ? kMeeting : kLine;
        places_.push_back({x, y});
      }
  }

  void run() {
    for (const cv::Point& place : places_)
      if (kind(place) == kMeeting && junction_.at<int>(place) < 0) gather(place);
    for (const cv::Point& place : places_)
      if (kind(place) == kLine && line_neighbours(place) < 2) follow(place);
    for (const cv::Point& place : places_)
      if (kind(place) == kLine) follow(place);  // what is left are rings
  }

 private:
  static constexpr std::uint8_t kLine = 1, kMeeting = 2, kTaken = 3;

  std::uint8_t kind(const cv::Point& place) const { return kind_.at<std::uint8_t>(place); }

  int line_neighbours(const cv::Point& place) const {
    int count = 0;
    for (std::size_t i = 0; i < 8; ++i) count += kind(place + cv::Point(kX[i], kY[i])) == kLine;
    return count;
  }

  void gather(const cv::Point& seed) {
    const int number = static_cast<int>(skeleton_.junctions.size());
    std::vector<cv::Point> members{seed};
    junction_.at<int>(seed) = number;
    Junction junction;
    for (std::size_t i = 0; i < members.size(); ++i) {
      junction.at += cv::Point2d(members[i]);
      junction.radius = std::max(junction.radius, static_cast<double>(skeleton_.distance.at<float>(members[i])));
      for (std::size_t k = 0; k < 8; ++k) {
        const cv::Point next = members[i] + cv::Point(kX[k], kY[k]);
        if (kind(next) != kMeeting || junction_.at<int>(next) >= 0) continue;
        junction_.at<int>(next) = number;
        members.push_back(next);
      }
    }
    junction.at *= 1.0 / static_cast<double>(members.size());
    skeleton_.junctions.push_back(junction);
  }

  int junction_beside(const cv::Point& place) const {
    for (std::size_t i = 0; i < 8; ++i)
      if (const int number = junction_.at<int>(place + cv::Point(kX[i], kY[i])); number >= 0) return number;
    return -1;
  }

  void follow(const cv::Point& first) {
    SkeletonPiece piece;
    piece.label = labels_.at<int>(first);
    for (cv::Point at = first;;) {
      kind_.at<std::uint8_t>(at) = kTaken;
      piece.path.push_back(at);
      cv::Point next(-1, -1);
      for (std::size_t i = 0; i < 8 && next.x < 0; ++i)
        if (kind(at + cv::Point(kX[i], kY[i])) == kLine) next = at + cv::Point(kX[i], kY[i]);
      if (next.x < 0) break;
      at = next;
    }
    piece.start = junction_beside(piece.path.front());
    piece.end = junction_beside(piece.path.back());
    // Of one sample both ends are the same place, and it may lie between two junctions; it is too short to matter.
    if (piece.path.size() > 1) skeleton_.pieces.push_back(std::move(piece));
  }

  const cv::Mat& labels_;
  Skeleton& skeleton_;
  cv::Mat kind_, junction_;
  std::vector<cv::Point> places_;
};

// Of the silhouettes with kBeyond samples more on every side.
cv::Mat distance_beyond(const cv::Mat& mask, cv::Mat& wider) {
  cv::Mat distance;
  cv::copyMakeBorder(mask, wider, kBeyond, kBeyond, kBeyond, kBeyond, cv::BORDER_REPLICATE);
  cv::distanceTransform(wider, distance, cv::DIST_L2, cv::DIST_MASK_5);
  return distance;
}

cv::Mat within_frame(const cv::Mat& wider, const cv::Mat& mask) {
  return wider(cv::Rect(kBeyond, kBeyond, mask.cols, mask.rows));
}

}  // namespace

cv::Mat distance_of(const cv::Mat& mask) {
  cv::Mat wider;
  return within_frame(distance_beyond(mask, wider), mask);
}

Skeleton skeleton_of(const cv::Mat& mask, const cv::Mat& labels) {
  Skeleton skeleton;
  cv::Mat wider;
  const cv::Mat distance = distance_beyond(mask, wider);
  // The rim of one sample outside the frame stays empty for the thinning's neighbourhoods.
  const cv::Rect framed(kBeyond - 1, kBeyond - 1, mask.cols + 2, mask.rows + 2);
  cv::Mat lines = wider(framed), numbers;
  lines.row(0) = 0, lines.row(lines.rows - 1) = 0, lines.col(0) = 0, lines.col(lines.cols - 1) = 0;
  cv::copyMakeBorder(labels, numbers, 1, 1, 1, 1, cv::BORDER_REPLICATE);
  skeleton.distance = distance(framed);
  thin(lines, skeleton.distance);
  make_lines(lines);
  Tracer(lines, numbers, skeleton).run();
  for (SkeletonPiece& piece : skeleton.pieces)
    for (cv::Point& place : piece.path) place -= cv::Point(1, 1);
  for (Junction& junction : skeleton.junctions) junction.at -= cv::Point2d(1.0, 1.0);
  skeleton.distance = within_frame(distance, mask);
  return skeleton;
}

}  // namespace scale
