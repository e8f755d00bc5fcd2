#include <scale/two_rulings.h>
#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "image/frame.h"
#include "ruling/divide_out.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

constexpr double kOneDirection = 0.026;  // radians: parts of one scale lean against each other by less (judgement)
constexpr double kOnePitch = 0.01;       // relative
constexpr double kOnePhase = 0.15;       // rms of the coarser one's lines about the finer one's places, divisions
constexpr int kMostMultiple = 20;        // of the pitch, where only long lines were seen
constexpr std::size_t kLeastLines = 5;   // of a scale that is believed
constexpr double kLeastSide = 0.04;      // of the picture: less room beside a scale holds no other
constexpr int kRefinements = 2;          // rounds of measuring each scale without the other

// A ruling in coordinates of the whole picture, and the part in which it was measured.
struct Found {
  Ruling ruling;
  cv::Rect part;
};

template <class Line>
void move(Line& line, const cv::Point& by) {
  line.x1_px += by.x, line.x2_px += by.x, line.y1_px += by.y, line.y2_px += by.y;
}

Ruling moved(Ruling ruling, const cv::Point& by) {
  const double along = by.x * std::cos(ruling.direction.value) + by.y * std::sin(ruling.direction.value);
  ruling.origin_px += along;
  for (Graduation& line : ruling.graduations) line.position_px += along, move(line, by);
  for (RejectedLine& line : ruling.rejected) move(line, by);
  return ruling;
}

cv::Point2d middle_of(const Graduation& line) {
  return {0.5 * (line.x1_px + line.x2_px), 0.5 * (line.y1_px + line.y2_px)};
}

double length_of(const Graduation& line) { return std::hypot(line.x2_px - line.x1_px, line.y2_px - line.y1_px); }

// Where a point lies on a ruling, in its divisions.
double place_on(const Ruling& ruling, const cv::Point2d& point) {
  const double t = point.x * std::cos(ruling.direction.value) + point.y * std::sin(ruling.direction.value);
  return (t - ruling.origin_px) / ruling.pitch_px;
}

// Do the lines of the coarser ruling stand at places of the finer one, a whole number of its divisions apart?
bool one_scale(const Ruling& a, const Ruling& b) {
  const Ruling& fine = a.pitch_px <= b.pitch_px ? a : b;
  const Ruling& coarse = a.pitch_px <= b.pitch_px ? b : a;
  if (std::abs(folded(a.direction.value - b.direction.value)) > kOneDirection) return false;
  const double ratio = coarse.pitch_px / fine.pitch_px, whole = std::round(ratio);
  if (whole > kMostMultiple || std::abs(ratio - whole) > kOnePitch * ratio) return false;
  std::vector<double> rest;
  for (const Graduation& line : coarse.graduations) {
    const double place = place_on(fine, middle_of(line));
    rest.push_back(place - std::round(place));
  }
  // Lines far from where the finer one was measured drift by the doubt of both directions: a common shift is no matter.
  double mean = 0.0, squares = 0.0;
  for (const double r : rest) mean += r / static_cast<double>(rest.size());
  for (const double r : rest) squares += (r - mean) * (r - mean);
  return std::sqrt(squares / static_cast<double>(rest.size())) < kOnePhase;
}

// How much a ruling says: lines, and how far they were followed.
double weight_of(const Ruling& ruling) {
  double length = 0.0;
  for (const Graduation& line : ruling.graduations) length += line.used ? length_of(line) : 0.0;
  return length;
}

// Of two views of one scale, is the first the better one? The finer division; then more lines.
bool better(const Ruling& a, const Ruling& b) {
  if (a.pitch_px < 0.6 * b.pitch_px) return true;
  if (b.pitch_px < 0.6 * a.pitch_px) return false;
  if (a.graduations.size() != b.graduations.size()) return a.graduations.size() > b.graduations.size();
  return weight_of(a) > weight_of(b);
}

class Search {
 public:
  Search(const cv::Mat& picture, double white, const RulingOptions& options)
      : picture_(picture), white_(white), options_(options) {}

  Reading read(const cv::Mat& picture, const cv::Rect& part) const {
    const cv::Mat view = picture(part);
    ImageView image;
    image.data = view.data;
    image.width = view.cols;
    image.height = view.rows;
    image.row_bytes = static_cast<std::ptrdiff_t>(view.step);
    image.type = view.depth() == CV_8U ? SampleType::u8 : view.depth() == CV_16U ? SampleType::u16 : SampleType::f32;
    image.white = white_;
    return find_rulings(image, options_);
  }

  // Rulings of a part, in coordinates of the picture; crossed ones are both there.
  std::vector<Found> found_in(const cv::Mat& picture, const cv::Rect& part) const {
    std::vector<Found> list;
    for (Ruling& ruling : read(picture, part).rulings)
      if (ruling.graduations.size() >= kLeastLines) list.push_back({moved(std::move(ruling), part.tl()), part});
    return list;
  }

  // Overlapping parts across or along the picture, coarse to fine.
  std::vector<cv::Rect> parts(bool across) const {
    std::vector<cv::Rect> list;
    for (const int count : {2, 3, 5})
      for (const cv::Rect& part : parts(across, count)) list.push_back(part);
    return list;
  }
  std::vector<cv::Rect> halves(bool across) const { return parts(across, 2); }

 private:
  std::vector<cv::Rect> parts(bool across, int count) const {
    std::vector<cv::Rect> list;
    const int size = (across ? picture_.rows : picture_.cols) / count;
    for (int half = 0; half <= 2 * (count - 1); ++half) {
      const int from = half * size / 2;
      list.push_back(across ? cv::Rect(0, from, picture_.cols, size) : cv::Rect(from, 0, size, picture_.rows));
    }
    return list;
  }

  const cv::Mat& picture_;
  double white_;
  const RulingOptions& options_;
};

// Scales apart from each other, each by its best view.
class Scales {
 public:
  void add(Found found) {
    for (Found& known : list_)
      if (one_scale(known.ruling, found.ruling)) {
        if (better(found.ruling, known.ruling)) known = std::move(found);
        return;
      }
    list_.push_back(std::move(found));
  }
  void add(std::vector<Found> more) {
    for (Found& found : more) add(std::move(found));
  }
  std::size_t size() const { return list_.size(); }
  std::vector<Found>& list() { return list_; }

 private:
  std::vector<Found> list_;
};

bool lies_across(const Ruling& ruling) { return std::abs(std::cos(ruling.direction.value)) >= std::sqrt(0.5); }

cv::Mat without(const cv::Mat& picture, const std::vector<Found>& scales) {
  cv::Mat rest = picture.clone();
  for (const Found& found : scales) rest = divided_out(rest, found.ruling);
  return rest;
}

// The band along the lines of a ruling, as a part of the picture with some room.
cv::Rect band_of(const Ruling& ruling, const cv::Size& size) {
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
  for (const Graduation& line : ruling.graduations) {
    left = std::min({left, line.x1_px, line.x2_px}), right = std::max({right, line.x1_px, line.x2_px});
    top = std::min({top, line.y1_px, line.y2_px}), bottom = std::max({bottom, line.y1_px, line.y2_px});
  }
  const double room = 3.0 * ruling.pitch_px;
  const cv::Rect box(cv::Point(static_cast<int>(left - room), static_cast<int>(top - 0.1 * (bottom - top) - 4.0)),
                     cv::Point(static_cast<int>(right + room), static_cast<int>(bottom + 0.1 * (bottom - top) + 4.0)));
  return box & cv::Rect(cv::Point(0, 0), size);
}

// What lies on both sides of a ruling, along its lines.
std::vector<cv::Rect> beside(const Ruling& ruling, const cv::Size& size) {
  const cv::Rect band = band_of(ruling, size);
  const std::vector<cv::Rect> sides =
      lies_across(ruling)
          ? std::vector<cv::Rect>{{0, 0, size.width, band.y}, {0, band.br().y, size.width, size.height - band.br().y}}
          : std::vector<cv::Rect>{{0, 0, band.x, size.height}, {band.br().x, 0, size.width - band.br().x, size.height}};
  std::vector<cv::Rect> list;
  for (const cv::Rect& side : sides)
    if (side.area() > kLeastSide * size.area()) list.push_back(side);
  return list;
}

// The whole showed nothing: overlapping parts, coarse to fine, until one does.
void find_first(const Search& search, const cv::Mat& picture, Scales& scales) {
  for (const bool across : {true, false})
    for (const cv::Rect& part : search.parts(across)) {
      if (scales.size() > 0) return;
      scales.add(search.found_in(picture, part));
    }
}

// Beside the one that is known; then where it has been taken out, whole and in halves.
void find_second(const Search& search, const cv::Mat& picture, Scales& scales) {
  const Ruling first = scales.list().front().ruling;
  for (const cv::Rect& side : beside(first, picture.size())) scales.add(search.found_in(picture, side));
  if (scales.size() >= 2) return;
  const cv::Mat rest = without(picture, scales.list());
  std::vector<cv::Rect> places = {cv::Rect(0, 0, picture.cols, picture.rows), band_of(first, picture.size())};
  for (const cv::Rect& half : search.halves(lies_across(first))) places.push_back(half);
  for (const cv::Rect& place : places) {
    if (scales.size() >= 2) return;
    scales.add(search.found_in(rest, place));
  }
}

bool share_ground(const Ruling& a, const Ruling& b, const cv::Size& size) {
  return (band_of(a, size) & band_of(b, size)).area() > 0;
}

// Each scale again, with the other one taken out; the first view stays where that gives nothing better.
void refine(const Search& search, const cv::Mat& picture, std::vector<Found>& pair) {
  for (int round = 0; round < kRefinements; ++round)
    for (std::size_t own = 0; own < 2; ++own) {
      const cv::Mat rest = divided_out(picture, pair[1 - own].ruling);
      const cv::Rect whole(0, 0, picture.cols, picture.rows);
      for (const cv::Rect& part : {band_of(pair[own].ruling, picture.size()), whole}) {
        bool done = false;
        for (Found& again : search.found_in(rest, part)) {
          if (!one_scale(again.ruling, pair[own].ruling) || again.ruling.pitch_px > 1.5 * pair[own].ruling.pitch_px ||
              again.ruling.graduations.size() + 2 < pair[own].ruling.graduations.size())
            continue;
          pair[own] = std::move(again);
          done = true;
          break;
        }
        if (done) break;
      }
    }
}

Failure one_scale_only() {
  return {
      "rulings", "one-scale",
      "one scale was found and no second one; bring both into view, side by side or crossed by a few degrees, and both "
      "in focus"};
}

Failure several_scales() {
  return {"rulings", "several-scales",
          "more than two scales were found, and it cannot be told which two are meant; show two, or give a --region"};
}

}  // namespace

Reading find_two_rulings(const ImageView& image, const RulingOptions& options) {
  Reading reading = find_rulings(image, options);
  if (reading.failure && (reading.failure->code == "too-small" || !within_range(image))) return reading;
  const cv::Mat picture = as_mat(image);
  const Search search(picture, image.white, options);
  Scales scales;
  for (Ruling& ruling : reading.rulings)
    if (ruling.graduations.size() >= kLeastLines) scales.add({ruling, {0, 0, image.width, image.height}});
  reading.rulings.clear();
  reading.warnings.clear();
  if (scales.size() == 0) find_first(search, picture, scales);
  if (scales.size() == 0) return reading;
  if (scales.size() == 1) find_second(search, picture, scales);
  if (scales.size() == 2) {
    // A third scale shows when both are gone.
    const cv::Mat rest = without(picture, scales.list());
    scales.add(search.found_in(rest, {0, 0, image.width, image.height}));
  }
  if (scales.size() != 2) {
    for (const Found& found : scales.list())
      for (const Graduation& line : found.ruling.graduations)
        reading.lines_seen.push_back({line.x1_px, line.y1_px, line.x2_px, line.y2_px, "refused"});
    reading.failure = scales.size() == 1 ? one_scale_only() : several_scales();
    return reading;
  }
  std::vector<Found>& pair = scales.list();
  if (share_ground(pair[0].ruling, pair[1].ruling, picture.size())) refine(search, picture, pair);
  reading.failure.reset();
  for (Found& found : pair) reading.rulings.push_back(std::move(found.ruling));
  return reading;
}

}  // namespace scale
