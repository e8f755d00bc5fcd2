#include <scale/two_rulings.h>
#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <optional>

#include "image/frame.h"
#include "numeric/robust.h"
#include "ruling/attempt.h"
#include "ruling/begin_reading.h"
#include "ruling/comb_pair.h"
#include "ruling/divide_out.h"
#include "ruling/extent.h"
#include "ruling/scale_ends.h"
#include "ruling/scale_views.h"
#include "ruling/turned.h"
#include "ruling/working_view.h"

namespace scale {
namespace {

constexpr std::size_t kLeastLines = 5;   // of a scale that is believed
constexpr std::size_t kLeastOfPair = 8;  // lines of each of two
constexpr double kLeastSpan = 0.3;       // of the other's
constexpr double kBeyondLines = 0.6;     // of the lines' length: room of a band in which a scale is measured again

bool lies_across(const Ruling& ruling) { return std::abs(std::cos(ruling.direction.value)) >= std::sqrt(0.5); }

// Undoes a finer division that only another scale's lines may have shown: every n-th line stands for one.
Ruling counted(Ruling ruling) {
  const int step = common_step(ruling);
  if (step == 1) return ruling;
  ruling.pitch_px *= step;
  ruling.pitch_uncertainty_px *= step;
  ruling.counted_by = step;
  const int first = ruling.graduations.front().index;
  ruling.origin_px += first * ruling.pitch_px / step;
  for (Graduation& line : ruling.graduations) line.index = (line.index - first) / step;
  ruling.missing = places_missing(ruling);
  return ruling;
}

class Search {
 public:
  Search(double white, const RulingOptions& options) : white_(white), options_(options) {}

  // Rulings of a part, in coordinates of the picture; crossed ones are both there.
  std::vector<ScaleView> views(const cv::Mat& picture, const cv::Rect& part) const {
    std::vector<ScaleView> list;
    if (part.width < kLeastSide || part.height < kLeastSide) return list;
    for (Ruling& ruling : read(picture, part).rulings) {
      if (ruling.graduations.size() < kLeastLines) continue;
      list.push_back({moved(counted(std::move(ruling)), part.x, part.y), part});
    }
    return list;
  }

 private:
  Reading read(const cv::Mat& picture, const cv::Rect& part) const {
    return find_rulings(as_view(picture(part), white_), options_);
  }

  double white_;
  const RulingOptions& options_;
};

// Overlapping parts across or along the picture, coarse to fine.
std::vector<cv::Rect> parts(const cv::Size& size, bool across) {
  std::vector<cv::Rect> list;
  for (const int count : {2, 3, 5}) {
    const int extent = (across ? size.height : size.width) / count;
    for (int half = 0; half <= 2 * (count - 1); ++half) {
      const int from = half * extent / 2;
      list.push_back(across ? cv::Rect(0, from, size.width, extent) : cv::Rect(from, 0, extent, size.height));
    }
  }
  return list;
}

// The band along the lines of a ruling, with room.
cv::Rect band_of(const Ruling& ruling, const cv::Size& size, double beyond) {
  double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
  for (const Graduation& line : ruling.graduations) {
    left = std::min({left, line.x1_px, line.x2_px}), right = std::max({right, line.x1_px, line.x2_px});
    top = std::min({top, line.y1_px, line.y2_px}), bottom = std::max({bottom, line.y1_px, line.y2_px});
  }
  const double along = 3.0 * ruling.pitch_px, room = 4.0 + beyond * length_of(ruling.graduations.front());
  const bool across = lies_across(ruling);
  const double x = across ? along : room, y = across ? room : along;
  return cv::Rect(cv::Point(static_cast<int>(left - x), static_cast<int>(top - y)),
                  cv::Point(static_cast<int>(right + x), static_cast<int>(bottom + y))) &
         cv::Rect(cv::Point(0, 0), size);
}

cv::Mat without(const cv::Mat& picture, const std::vector<ScaleView>& scales) {
  cv::Mat rest = picture.clone();
  for (const ScaleView& view : scales) rest = divided_out(rest, view.ruling);
  return rest;
}

std::vector<RejectedLine> lines_of(const std::vector<ScaleView>& scales, const Turned& turned) {
  std::vector<RejectedLine> lines;
  for (const ScaleView& view : scales)
    for (const Graduation& line : turned.back(view.ruling).graduations)
      lines.push_back({line.x1_px, line.y1_px, line.x2_px, line.y2_px, "refused"});
  return lines;
}

// The whole showed nothing: bands of it, both ways, until one does.
std::optional<Ruling> found_in_parts(const Search& search, const cv::Mat& picture) {
  for (const bool across : {true, false})
    for (const cv::Rect& part : parts(picture.size(), across))
      if (auto views = search.views(picture, part); !views.empty()) return std::move(views.front().ruling);
  return std::nullopt;
}

// Every scale that shows by itself somewhere: the whole picture, then bands along the first one.
Scales seen_by_themselves(const Search& search, const Turned& turned, const Ruling& first) {
  const cv::Mat& picture = turned.picture();
  Scales scales(picture);
  scales.add(ScaleView{first, {0, 0, picture.cols, picture.rows}});
  for (const cv::Rect& part : parts(picture.size(), lies_across(first))) {
    auto views = search.views(picture, turned.inside(part));
    scales.add(std::move(views));
  }
  return scales;
}

// Each scale measured again with the other one taken out, in a band with room beyond its lines' ends.
void measure_again(const Search& search, const Turned& turned, std::vector<ScaleView>& pair, TwoRulings& two) {
  for (std::size_t own = 0; own < 2; ++own) {
    const cv::Mat rest = divided_out(turned.picture(), pair[1 - own].ruling);
    Scales again(turned.picture());
    again.add(pair[own]);
    const cv::Rect band = band_of(pair[own].ruling, rest.size(), kBeyondLines);
    for (ScaleView& view : search.views(rest, band))
      if (one_scale(turned.picture(), view.ruling, pair[own].ruling)) again.add(std::move(view));
    pair[own] = again.best().front();
    two.ends[own] = ends_seen(rest, pair[own].ruling);
  }
}

// Is there another scale in what is left when both are gone?
bool third_scale(const Search& search, const Turned& turned, const std::vector<ScaleView>& pair) {
  const cv::Mat rest = without(turned.picture(), pair);
  const auto views = search.views(rest, cv::Rect(0, 0, rest.cols, rest.rows));
  return std::any_of(views.begin(), views.end(), [&](const ScaleView& view) {
    return !one_scale(turned.picture(), view.ruling, pair[0].ruling) &&
           !one_scale(turned.picture(), view.ruling, pair[1].ruling);
  });
}

// Lines shorter than their distance are the ends of long ones, whose scale has finer lines.
bool stumpy(const Ruling& ruling) {
  std::vector<double> lengths;
  for (const Graduation& line : ruling.graduations) lengths.push_back(length_of(line));
  return numeric::upper_median(std::move(lengths)) < ruling.pitch_px;
}

// Was only a piece of a scale measured, or its long lines alone? Such a pitch may be a multiple of its division.
bool partial(const Ruling& ruling, const Ruling& other) {
  const auto span = [](const Ruling& one) {
    return one.graduations.back().position_px - one.graduations.front().position_px;
  };
  return ruling.counted_by > 1 || stumpy(ruling) || ruling.graduations.size() < kLeastOfPair ||
         span(ruling) < kLeastSpan * span(other);
}

Failure one_scale_only() {
  return {
      "rulings", "one-scale",
      "one scale was found and no second one; bring both into view, side by side or crossed by a few degrees, and both "
      "in focus, and where lines of both are in line from end to end, move the slide by part of a division"};
}

Failure several_scales() {
  return {"rulings", "several-scales",
          "more than two scales were found, and it cannot be told which two are meant; show two, or give a --region"};
}

Failure in_part_only() {
  return {"rulings", "unresolved",
          "of one scale only a small part or its long lines could be measured; use a sharper picture, or lay the "
          "scales side "
          "by side"};
}

// Why the scales found are not two that were measured; nothing when they are.
std::optional<Failure> measured_apart(const Search& search, const Turned& turned, Scales& scales, TwoRulings& two) {
  if (scales.size() == 1) {
    const cv::Mat rest = without(turned.picture(), scales.best());
    scales.add(search.views(rest, cv::Rect(0, 0, rest.cols, rest.rows)));
  }
  scales.drop_fragments();
  if (scales.size() != 2) return scales.size() == 1 ? one_scale_only() : several_scales();
  std::vector<ScaleView> pair = scales.best();
  measure_again(search, turned, pair, two);
  if (partial(pair[0].ruling, pair[1].ruling) || partial(pair[1].ruling, pair[0].ruling)) return in_part_only();
  if (!resolvable(turned.picture(), pair[0].ruling, pair[1].ruling) ||
      follow_each_other(extent_of(pair[0].ruling), extent_of(pair[1].ruling)))
    return one_scale_only();
  if (third_scale(search, turned, pair)) return several_scales();
  for (std::size_t i = 0; i < 2; ++i) {
    const double before = pair[i].ruling.direction.value;
    two.reading.rulings.push_back(turned.back(std::move(pair[i].ruling)));
    // More than the least turn that set the picture level: the axis was turned round.
    if (std::abs(two.reading.rulings[i].direction.value - before) > 1.0) std::swap(two.ends[i].first, two.ends[i].last);
  }
  return std::nullopt;
}

// The same from a pair of combs, where there is one.
std::optional<Failure> taken_apart(std::optional<CombPair> pair, TwoRulings& two, Failure otherwise) {
  if (!pair) return otherwise;
  if (pair->third) return several_scales();
  for (std::size_t i = 0; i < 2; ++i) {
    two.ends[i] = ends_seen(pair->rest[i], pair->rulings[i]);
    two.reading.rulings.push_back(std::move(pair->rulings[i]));
  }
  return std::nullopt;
}

}  // namespace

TwoRulings find_two_rulings(const ImageView& image, const RulingOptions& options) {
  TwoRulings two;
  Reading& reading = two.reading;
  reading = begin_reading(image, options).reading;
  if (reading.failure) return two;
  const cv::Mat picture = as_mat(image);
  auto failure = taken_apart(find_comb_pair_by_spectrum(picture, image.white, true), two, one_scale_only());
  if (!failure) return two;
  reading = find_rulings(image, options);
  const Search search(image.white, options);
  const auto first = reading.rulings.empty() ? found_in_parts(search, picture) : std::optional(reading.rulings.front());
  if (!first) return two;
  reading.failure.reset();
  reading.rulings.clear();
  reading.warnings.clear();
  if (!first->dark_on_bright &&
      !taken_apart(find_comb_pair_by_spectrum(picture, image.white, false), two, one_scale_only()))
    return two;
  const Turned turned(picture, first->direction.value);
  Scales scales = seen_by_themselves(search, turned, turned.there(counted(*first)));
  failure = measured_apart(search, turned, scales, two);
  if (failure) {
    std::vector<Ruling> pieces;
    for (const ScaleView& view : scales.best()) pieces.push_back(turned.back(view.ruling));
    failure = taken_apart(find_comb_pair(picture, image.white, pieces), two, std::move(*failure));
  }
  if (failure) reading.lines_seen = lines_of(scales.best(), turned), reading.failure = std::move(failure);
  return two;
}

}  // namespace scale
