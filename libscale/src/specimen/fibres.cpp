#include "specimen/fibres.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "numeric/robust.h"
#include "specimen/narrow.h"
#include "specimen/polyline.h"
#include "specimen/silhouettes.h"

namespace scale {
namespace {

constexpr double kNearEnd = 0.6;       // widths from the tip within which a round or square end changes the width
constexpr double kLeastLength = 10.0;  // pixels of clear edges on both sides
constexpr double kUnlike = 0.15;       // share of the width by which one place may differ from its surroundings

PixelPoint pixel(const cv::Point2d& point) { return {point.x, point.y}; }

// A middle line with what lies to both sides of it.
struct Middle {
  std::vector<cv::Point2d> path, normal;
  std::vector<double> half_width;
};

Border side_of(const Middle& middle, double sign) {
  Border border;
  border.room = middle.half_width;
  for (std::size_t i = 0; i < middle.path.size(); ++i) {
    border.outward.push_back(sign * middle.normal[i]);
    border.at.push_back(middle.path[i] + border.outward.back() * middle.half_width[i]);
  }
  return border;
}

// Values where they are known, straight between, the nearest one beyond.
std::vector<double> filled(const std::vector<double>& values, const std::vector<bool>& known) {
  std::vector<double> result(values.size(), 0.0);
  std::ptrdiff_t last = -1;
  const auto count = static_cast<std::ptrdiff_t>(values.size());
  for (std::ptrdiff_t i = 0; i < count; ++i) {
    if (!known[i]) continue;
    const double before = last < 0 ? values[i] : values[last];
    for (std::ptrdiff_t j = last + 1; j <= i; ++j) {
      const double share = last < 0 ? 1.0 : static_cast<double>(j - last) / static_cast<double>(i - last);
      result[j] = before + share * (values[i] - before);
    }
    last = i;
  }
  for (std::ptrdiff_t j = last + 1; j < count; ++j) result[j] = last < 0 ? 0.0 : values[last];
  return result;
}

struct Sides {
  EdgeSet left, right;  // left: along the normal
  bool both(std::size_t i) const { return left.good[i] && right.good[i]; }
  int count() const {
    int count = 0;
    for (std::size_t i = 0; i < left.good.size(); ++i) count += both(i);
    return count;
  }
};

Sides sides_of(const Relief& relief, const Middle& middle, double known_blur, double likely_blur) {
  return {find_edges(relief, side_of(middle, 1.0), known_blur, likely_blur),
          find_edges(relief, side_of(middle, -1.0), known_blur, likely_blur)};
}

Middle middle_of(std::vector<cv::Point2d> path, std::vector<double> half_width) {
  Middle middle{std::move(path), {}, std::move(half_width)};
  middle.normal = normals_of(middle.path);
  return middle;
}

// The middle line drawn between the edges that were found.
Middle centred(const Middle& middle, const Sides& sides) {
  std::vector<double> aside(middle.path.size()), half(middle.path.size());
  std::vector<bool> known(middle.path.size());
  for (std::size_t i = 0; i < known.size(); ++i) {
    known[i] = sides.both(i);
    if (!known[i]) continue;
    aside[i] = 0.5 * (sides.left.offset[i] - sides.right.offset[i]);
    half[i] = middle.half_width[i] + 0.5 * (sides.left.offset[i] + sides.right.offset[i]);
  }
  aside = filled(aside, known), half = filled(half, known);
  std::vector<cv::Point2d> path, pairs;
  for (std::size_t i = 0; i < known.size(); ++i) {
    path.push_back(middle.path[i] + middle.normal[i] * aside[i]);
    pairs.emplace_back(half[i], 0.0);
  }
  const double spacing = std::max(0.5, cv::norm(middle.path[1] - middle.path[0]));
  const double sigma = std::max(1.0, std::max(3.0, 0.5 * numeric::median(std::span<const double>(half))) / spacing);
  pairs = smoothed(pairs, sigma);
  for (std::size_t i = 0; i < half.size(); ++i) half[i] = std::max(0.5, pairs[i].x);
  return middle_of(smoothed(path, sigma), half);
}

struct Tip {
  cv::Point2d at;
  bool in_view = true;
};

// Where the fibre ends beyond the end of its middle line: half level along its own direction.
Tip tip_of(const Relief& relief, const cv::Point2d& end, const cv::Point2d& outward, double width,
           const EdgeShape& shape) {
  const int count = static_cast<int>(2.0 * width + 6.0) * 2;
  std::vector<float> values(static_cast<std::size_t>(count));
  relief.profile(end, outward * 0.5, count, values.data());
  // A rim closes the end: its outer flank is the last place above the level.
  const double level = shape.outside + 0.5 * shape.step;
  double last = 0.0;
  for (int i = 1; i < count; ++i) {
    const double here = static_cast<double>(values[i - 1]), next = static_cast<double>(values[i]);
    if (!std::isfinite(next)) {
      constexpr double kGroundSeen = 3.0;  // pixels of ground between the tip and the frame
      const bool ended = last > 0.0 && 0.5 * i > last + kGroundSeen;
      return {end + outward * (ended ? last : 0.5 * (i - 1)), ended};
    }
    if (here > level && next <= level) last = 0.5 * (i - 1 + (here - level) / (here - next));
    if (0.5 * i > last + 0.75 * width && last > 0.0) break;
  }
  return {end + outward * last, true};
}

// Places whose width is unlike that of their surroundings: a body that sticks to the fibre, another fibre's shoulder.
void leave_out_unlike(std::vector<double>& width, std::vector<bool>& used, double typical, double noise) {
  const auto reach = static_cast<std::ptrdiff_t>(std::max(20.0, 3.0 * typical));
  const auto count = static_cast<std::ptrdiff_t>(width.size());
  const std::vector<bool> before = used;
  double centre = typical;
  for (std::ptrdiff_t i = 0; i < count; ++i) {
    constexpr std::ptrdiff_t kEvery = 4;  // the surroundings change slowly
    if (i % kEvery == 0) {
      std::vector<double> around;
      for (std::ptrdiff_t j = std::max<std::ptrdiff_t>(0, i - reach); j < std::min(count, i + reach + 1); j += 2)
        if (before[j]) around.push_back(width[j]);
      if (!around.empty()) centre = numeric::median_in_place(std::span<double>(around));
    }
    used[i] = before[i] && std::abs(width[i] - centre) < std::max(5.0 * noise, kUnlike * centre);
  }
}

// Straight line through the widths along the fibre that most of them agree with; robust (Tukey) least squares.
std::vector<double> trend_of(const std::vector<double>& width, const std::vector<bool>& used, double least_scale) {
  std::vector<double> trend(width.size());
  std::vector<double> known;
  for (std::size_t i = 0; i < used.size(); ++i)
    if (used[i]) known.push_back(width[i]);
  // Other bodies add to a width and seldom take from it: begin low.
  std::fill(trend.begin(), trend.end(), numeric::quantile(std::move(known), 0.3));
  for (int round = 0; round < 8; ++round) {
    std::vector<double> off;
    for (std::size_t i = 0; i < used.size(); ++i)
      if (used[i]) off.push_back(std::abs(width[i] - trend[i]));
    constexpr double kTukey = 4.685;
    const double limit =
        kTukey * std::max(least_scale, numeric::kMadToSigma * numeric::median_in_place(std::span<double>(off)));
    double w = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
    for (std::size_t i = 0; i < used.size(); ++i) {
      const double share = (width[i] - trend[i]) / limit, place = static_cast<double>(i);
      if (!used[i] || std::abs(share) >= 1.0) continue;
      const double weight = std::pow(1.0 - share * share, 2);
      w += weight, x += weight * place, y += weight * width[i];
      xx += weight * place * place, xy += weight * place * width[i];
    }
    const double spread = w * xx - x * x;
    const double slope = spread > 1e-9 * w * xx ? (w * xy - x * y) / spread : 0.0;
    for (std::size_t i = 0; i < trend.size(); ++i) trend[i] = y / w + slope * (static_cast<double>(i) - x / w);
  }
  return trend;
}

// Of a fibre that others lie on: places whose width is off what the fibre has elsewhere. One that runs along it for a
// while widens it slowly. False: most of it is off, and which width is the fibre's own is not known.
bool leave_out_off_trend(const std::vector<double>& width, std::vector<bool>& used, double typical, double noise) {
  constexpr double kOff = 0.06, kLeastShare = 0.6;  // of the width, beside noise; of the places
  const std::vector<double> trend = trend_of(width, used, std::max(noise, 0.01 * typical));
  const auto before = std::count(used.begin(), used.end(), true);
  for (std::size_t i = 0; i < used.size(); ++i)
    used[i] = used[i] && std::abs(width[i] - trend[i]) < std::max(5.0 * noise, kOff * typical);
  return static_cast<double>(std::count(used.begin(), used.end(), true)) >= kLeastShare * static_cast<double>(before);
}

void set_outline(Body& body, const Middle& middle, const Sides& sides, double left_shift, double right_shift) {
  std::vector<double> left = filled(sides.left.offset, sides.left.good),
                      right = filled(sides.right.offset, sides.right.good);
  std::vector<PixelPoint> back;
  for (std::size_t i = 0; i < middle.path.size(); ++i) {
    LocalWidth& local = body.widths[i];
    local.left = pixel(middle.path[i] + middle.normal[i] * (middle.half_width[i] + left[i] + left_shift));
    local.right = pixel(middle.path[i] - middle.normal[i] * (middle.half_width[i] + right[i] + right_shift));
    body.outline.push_back(local.left);
    back.push_back(local.right);
  }
  body.outline.insert(body.outline.end(), back.rbegin(), back.rend());
}

void set_levels(Body& body, const Relief& relief, const Middle& middle, const Sides& sides) {
  const EdgeShape& left = sides.left.shape;
  const EdgeShape& right = sides.right.shape;
  const cv::Point2d& at = middle.path[middle.path.size() / 2];
  body.edge_blur_px = 0.5 * (left.blur + right.blur);
  body.rimmed = left.rimmed && right.rimmed;
  body.round_edge = left.round && right.round;
  body.blur_correction_px = 0.5 * (left.correction + right.correction);
  body.rim_doubt_px = 0.5 * (left.doubt + right.doubt);
  body.edge_noise_px = std::sqrt(0.5 * (std::pow(sides.left.noise, 2) + std::pow(sides.right.noise, 2)));
  body.edge_length_px = sides.left.noise_length;
  body.outside_level = relief.level(at, 0.5 * (left.outside + right.outside));
  body.inside_level = relief.level(at, 0.5 * (left.outside + right.outside + left.step + right.step));
}

// Tips, and which places lie too near to one.
void set_ends(Body& body, const Relief& relief, const Middle& middle, const Sides& sides, const Strand& strand,
              std::vector<bool>& used) {
  const EdgeShape& shape = sides.left.shape;
  const std::size_t count = middle.path.size();
  const double width = 2.0 * numeric::median(std::span<const double>(middle.half_width));
  const std::size_t arm = std::min(count - 1, static_cast<std::size_t>(std::max(6.0, width)));
  const auto direction = [](const cv::Point2d& from, const cv::Point2d& to) {
    return (to - from) * (1.0 / std::max(cv::norm(to - from), 1e-9));
  };
  Tip front{middle.path.front()}, back{middle.path.back()};
  if (!strand.front_hidden)
    front = tip_of(relief, middle.path.front(), direction(middle.path[arm], middle.path.front()), width, shape);
  if (!strand.back_hidden)
    back =
        tip_of(relief, middle.path.back(), direction(middle.path[count - 1 - arm], middle.path.back()), width, shape);
  body.at_border = !front.in_view || !back.in_view;
  for (std::size_t i = 0; i < count; ++i) {
    if (front.in_view && cv::norm(middle.path[i] - front.at) < kNearEnd * width) used[i] = false;
    if (back.in_view && cv::norm(middle.path[i] - back.at) < kNearEnd * width) used[i] = false;
  }
  body.centre.push_back(pixel(front.at));
  for (const cv::Point2d& point : middle.path) body.centre.push_back(pixel(point));
  body.centre.push_back(pixel(back.at));
}

// The middle line of a strand in the picture at even steps, with which of its points are clear of other bodies.
Middle middle_of_strand(const Strand& strand, int reduction) {
  std::vector<cv::Point2d> path;
  for (const cv::Point2d& at : strand.path) path.emplace_back(in_picture(at.x, reduction), in_picture(at.y, reduction));
  constexpr double kCoarse = 3.0, kShort = 80.0;  // the middle is smooth: a third of its points is enough to centre it
  path = resampled(path, length_of(path) > kShort ? kCoarse : 1.0);
  std::vector<double> half(path.size(), 0.5 * strand.width * reduction);
  return middle_of(std::move(path), std::move(half));
}

// The same line at steps of a pixel.
Middle finer(const Middle& middle) {
  Middle result = middle_of(resampled(middle.path, 1.0), {});
  const double ratio = static_cast<double>(middle.path.size() - 1) /
                       static_cast<double>(std::max<std::size_t>(1, result.path.size() - 1));
  for (std::size_t i = 0; i < result.path.size(); ++i) {
    const double place = std::min(static_cast<double>(i) * ratio, static_cast<double>(middle.path.size() - 1));
    const auto j = std::min(static_cast<std::size_t>(place), middle.path.size() - 2);
    result.half_width.push_back(middle.half_width[j] +
                                (place - static_cast<double>(j)) * (middle.half_width[j + 1] - middle.half_width[j]));
  }
  return result;
}

// Two fibres side by side have an edge each, of unlike steps where they are not of one kind. Rims depend on the light.
bool are_of_one_fibre(const EdgeShape& left, const EdgeShape& right) {
  constexpr double kUnlikeSteps = 1.4;
  const bool alike = std::max(left.step, right.step) < kUnlikeSteps * std::min(left.step, right.step);
  return is_of_one_body(left) && is_of_one_body(right) && (alike || (left.rimmed && right.rimmed));
}

bool is_clear(const Strand& strand, std::size_t i, std::size_t count) {
  const double share = count > 1 ? static_cast<double>(i) / static_cast<double>(count - 1) : 0.0;
  return strand.clear[std::min(strand.clear.size() - 1, static_cast<std::size_t>(std::lround(
                                                            share * static_cast<double>(strand.clear.size() - 1))))];
}

}  // namespace

double mean_width(const Body& fibre) {
  double sum = 0.0;
  int count = 0;
  for (const LocalWidth& local : fibre.widths) {
    if (!local.used) continue;
    sum += std::hypot(local.left.x - local.right.x, local.left.y - local.right.y);
    ++count;
  }
  return count > 0 ? sum / count : 0.0;
}

std::optional<Body> outline_fibre(const Relief& relief, const Strand& strand, int reduction, double known_blur) {
  Middle middle = middle_of_strand(strand, reduction);
  if (middle.path.size() < 8) return std::nullopt;
  constexpr double kLikely = 1.5;  // pixels of blur, to begin with
  Sides sides = sides_of(relief, middle, known_blur, kLikely);
  for (int round = 0; round < 2; ++round) {
    if (sides.count() < 4) return std::nullopt;
    middle = centred(middle, sides);
    if (round == 1) middle = finer(middle);
    sides = sides_of(relief, middle, known_blur, std::max(sides.left.shape.blur, sides.right.shape.blur));
  }
  if (!are_of_one_fibre(sides.left.shape, sides.right.shape)) return std::nullopt;
  Body body;
  body.kind = BodyKind::fibre;
  body.end_hidden = strand.front_hidden || strand.back_hidden;
  body.crossed = strand.joined || body.end_hidden;
  set_levels(body, relief, middle, sides);
  std::vector<bool> used(middle.path.size());
  std::vector<double> width(middle.path.size());
  for (std::size_t i = 0; i < used.size(); ++i) {
    used[i] = sides.both(i) && is_clear(strand, i, used.size());
    width[i] = 2.0 * middle.half_width[i] + sides.left.offset[i] + sides.right.offset[i];
  }
  set_ends(body, relief, middle, sides, strand, used);
  std::vector<double> known;
  for (std::size_t i = 0; i < used.size(); ++i)
    if (used[i]) known.push_back(width[i]);
  if (known.empty()) return std::nullopt;
  const double typical = numeric::median_in_place(std::span<double>(known));
  // Far within the silhouette: the edge of a dark core, whose own body has hardly any. The level of finding and the
  // half level are half a blur apart, an eighth of the narrowest width of four blurs.
  constexpr double kWithin = 0.75;
  if (typical < (kWithin * strand.width - 1.0) * reduction) return std::nullopt;
  const double noise = std::sqrt(2.0) * body.edge_noise_px;
  leave_out_unlike(width, used, typical, noise);
  if (body.crossed && !leave_out_off_trend(width, used, typical, noise)) return std::nullopt;
  const auto count = std::count(used.begin(), used.end(), true);
  if (static_cast<double>(count) < std::max(kLeastLength, 0.5 * typical)) return std::nullopt;
  body.widths.resize(used.size());
  set_outline(body, middle, sides, sides.left.shape.correction, sides.right.shape.correction);
  for (std::size_t i = 0; i < used.size(); ++i) body.widths[i].used = used[i];
  // A point of the body that is seen clearly: the middle one of the places that count.
  std::ptrdiff_t passed = 0;
  for (std::size_t i = 0; i < used.size(); ++i)
    if (used[i] && ++passed == (count + 1) / 2) body.at = pixel(middle.path[i]);
  return body;
}

bool correct_narrow_fibre(Body& body, double known_blur) {
  const double measured = mean_width(body);
  // A rim has its own correction, and its edges know nothing of each other.
  if (body.rimmed) return measured > kResolved * body.edge_blur_px;
  if (measured > kFullyResolved * std::max(known_blur, body.edge_blur_px)) return true;
  // The edges of a narrow body look sharper than they are. Softer than the known blur: it lies out of focus.
  double blur = blur_of_bar(measured, body.edge_blur_px);
  if (known_blur > 0.0) blur = std::max(known_blur, blur > 1.1 * known_blur ? blur : 0.0);
  body.edge_blur_px = blur;
  const double width = bar_width(measured, blur);
  if (width <= 0.0) return false;
  const double shift = 0.5 * (width - measured);
  for (LocalWidth& local : body.widths) {
    const double dx = local.left.x - local.right.x, dy = local.left.y - local.right.y;
    const double length = std::max(std::hypot(dx, dy), 1e-9);
    local.left.x += shift * dx / length, local.left.y += shift * dy / length;
    local.right.x -= shift * dx / length, local.right.y -= shift * dy / length;
  }
  for (std::size_t i = 0; i < body.widths.size(); ++i) {
    body.outline[i] = body.widths[i].left;
    body.outline[body.outline.size() - 1 - i] = body.widths[i].right;
  }
  body.blur_correction_px += shift;
  return true;
}

}  // namespace scale
