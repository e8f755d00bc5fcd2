#include "specimen/judgement.h"

#include <algorithm>
#include <cmath>

#include <scale/quantity_text.h>

#include "numeric/robust.h"
#include "specimen/fibres.h"
#include "specimen/narrow.h"
#include "specimen/polyline.h"
#include "specimen/shape.h"

namespace scale {
namespace {

constexpr double kSaturated = 0.02;     // share of samples from which on it is told
constexpr double kOtherTone = 0.15;     // share of what stands out
constexpr double kOutOfFocus = 2.0;     // blurs of the fibres: softer bodies among them are dirt
constexpr double kHardlyElse = 0.8;     // share of the bodies' area that is of fibres
constexpr double kSpeckOfFibres = 1.5;  // widths of the typical fibre: smaller bodies among fibres are dirt
constexpr double kSoft = 6.0;           // pixels of blur from which on a picture is called blurred

template <class Sample>
bool even(const ImageView& image, int x1, int y1, int x2, int y2) {
  const Sample first = image.row<Sample>(y1)[x1];
  for (int y = y1; y <= y2; ++y)
    for (int x = x1; x <= x2; ++x)
      if (image.row<Sample>(y)[x] != first) return false;
  return true;
}

bool is_even(const ImageView& image, int x1, int y1, int x2, int y2) {
  if (image.type == SampleType::u8) return even<std::uint8_t>(image, x1, y1, x2, y2);
  if (image.type == SampleType::u16) return even<std::uint16_t>(image, x1, y1, x2, y2);
  return even<float>(image, x1, y1, x2, y2);
}

double least_breadth(const Body& body) {
  if (body.kind == BodyKind::fibre) return mean_width(body);
  std::vector<cv::Point2d> outline;
  for (const PixelPoint& point : body.outline) outline.emplace_back(point.x, point.y);
  return least_feret(outline);
}

bool beside(const Body& body, const Body& other) {
  // Does most of `body`'s middle lie within `other`? Its rim lies along its edge.
  constexpr double kOfRim = 0.3;  // of its width
  const bool may_be_rim = other.rimmed && mean_width(body) < kOfRim * mean_width(other);
  const double reach = (may_be_rim ? 0.5 : 0.4) * mean_width(other);
  int within = 0, count = 0;
  for (std::size_t i = 0; i < body.centre.size(); i += 8, ++count) {
    double nearest = 1e9;
    for (std::size_t j = 0; j < other.centre.size(); j += 4)
      nearest =
          std::min(nearest, std::hypot(body.centre[i].x - other.centre[j].x, body.centre[i].y - other.centre[j].y));
    within += nearest < std::max(reach, 3.0);
  }
  return within > 0.6 * count;
}

void remove_doubles(std::vector<Body>& bodies) {
  std::vector<bool> doubled(bodies.size(), false);
  const auto is_fibre = [&](std::size_t i) { return bodies[i].kind == BodyKind::fibre; };
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    if (!is_fibre(i) || !bodies[i].crossed) continue;
    for (std::size_t j = 0; j < bodies.size() && !doubled[i]; ++j) {
      if (i == j || doubled[j] || !is_fibre(j)) continue;
      if (bodies[i].centre.size() <= bodies[j].centre.size() && beside(bodies[i], bodies[j])) doubled[i] = true;
    }
  }
  std::vector<Body> kept;
  for (std::size_t i = 0; i < bodies.size(); ++i)
    if (!doubled[i]) kept.push_back(std::move(bodies[i]));
  bodies = std::move(kept);
}

template <class Condition>
int remove(std::vector<Body>& bodies, const Condition& condition) {
  const auto end = std::remove_if(bodies.begin(), bodies.end(), condition);
  const int count = static_cast<int>(bodies.end() - end);
  bodies.erase(end, bodies.end());
  return count;
}

bool is_short(const Body& body) {
  constexpr double kShort = 5.0;  // widths
  return static_cast<double>(body.centre.size()) < kShort * mean_width(body);
}

// A short thing whose width changes all along is a row of specks.
bool is_ragged(const Body& body) {
  constexpr double kRagged = 0.08;  // standard deviation of the width over its mean
  if (body.kind != BodyKind::fibre || body.at_border || body.crossed) return false;
  const double mean = mean_width(body);
  double squares = 0.0;
  int count = 0;
  for (const LocalWidth& local : body.widths) {
    if (!local.used) continue;
    squares += std::pow(std::hypot(local.left.x - local.right.x, local.left.y - local.right.y) - mean, 2);
    ++count;
  }
  return is_short(body) && squares > kRagged * kRagged * mean * mean * count;
}

// Compact bodies in a picture of fibres: all where hardly anything else is there, else the small and the soft ones.
// Two specks in touch are as long as a short fibre, but small as well.
int remove_specks(SpecimenReading& reading) {
  std::vector<double> blurs;
  double widths = 0.0;  // weighted by area, so that many specks do not make a fibre
  double fibres = 0.0, grains = 0.0;
  for (const Body& body : reading.bodies) {
    if (body.kind == BodyKind::grain) {
      grains += body_area(body);
      continue;
    }
    widths += body_area(body) * mean_width(body);
    blurs.push_back(body.edge_blur_px);
    fibres += body_area(body);
  }
  if (blurs.empty() || fibres < grains) return 0;
  const double size = kSpeckOfFibres * widths / fibres;
  const double soft = kOutOfFocus * numeric::median_in_place(std::span<double>(blurs));
  const bool hardly_else = fibres > kHardlyElse * (fibres + grains);
  return remove(reading.bodies, [&](const Body& body) {
    const bool small = std::sqrt(body_area(body)) < size;
    if (body.kind == BodyKind::fibre) return is_ragged(body) || (small && is_short(body) && !body.at_border);
    return hardly_else || small || body.edge_blur_px > soft;
  });
}

void warn_of_left_out(SpecimenReading& reading, const LeftOut& left_out, int unresolved) {
  const auto warn = [&](const std::string& code, const std::string& message) {
    reading.warnings.push_back({code, message});
  };
  if (left_out.specks > 0)
    warn("specks", counted(left_out.specks, "small or compact body was", "small or compact bodies were") +
                       " taken for dirt and left out; --kind and --least-width say otherwise");
  if (left_out.hidden > 0)
    warn("no-clear-edge", counted(left_out.hidden, "body shows", "bodies show") +
                              " too little of an edge against the ground and could not be measured");
  if (left_out.bundles > 0)
    warn("side-by-side", "fibres lie side by side like one wide one over " +
                             counted(left_out.bundles, "stretch", "stretches") + ", left out; tease them apart");
  if (left_out.drawn > 0)
    warn("drawn-marks",
         counted(left_out.drawn, "mark", "marks") + " drawn into the picture (letters, bars) were left out");
  if (unresolved > 0)
    warn("unresolved", counted(unresolved, "body is", "bodies are") +
                           " narrower than two blur widths, not resolved and left out; use a higher magnification");
  if (left_out.other_share > kOtherTone)
    warn("other-tone", std::string("bodies ") + (reading.bodies_dark ? "brighter" : "darker") +
                           " than the ground were seen as well and left out; --tone measures them");
}

void warn_of_doubtful(SpecimenReading& reading) {
  const auto warn = [&](bool Body::*doubt, const std::string& code, const std::string& one, const std::string& many,
                        const std::string& rest) {
    const auto count = static_cast<int>(
        std::count_if(reading.bodies.begin(), reading.bodies.end(), [&](const Body& body) { return body.*doubt; }));
    if (count > 0) reading.warnings.push_back({code, counted(count, one, many) + rest});
  };
  warn(&Body::necked, "touching", "body looks", "bodies look",
       " like grains that touch, taken for one; --part separates them");
  warn(&Body::bubble_like, "bubbles", "round body has", "round bodies have",
       " a dark edge and a bright middle, as bubbles have; look at the picture, and take those out that are");
  warn(&Body::line_inside, "line-inside", "fibre shows", "fibres show",
       " a line or a step of tone along the inside: a medulla, or two fibres side by side measured as one; look at the "
       "picture");
  warn(&Body::line_beside, "line-beside", "thin fibre has", "thin fibres have",
       " a line like it beside it all along: two fibres, or the two sides of a transparent one, whose width is then "
       "from side to side; look at the picture");
}

Failure nothing_stands_out(const std::string& stage) {
  return {stage, "no-bodies",
          "nothing stands out from the ground and its noise; focus, raise the contrast, or try --tone"};
}

}  // namespace

double typical_blur(const std::vector<Body>& bodies) {
  std::vector<double> blurs;
  for (const Body& body : bodies) blurs.push_back(body.edge_blur_px);
  return blurs.empty() ? 0.0 : numeric::median_in_place(std::span<double>(blurs));
}

void warn_of_picture(SpecimenReading& reading) {
  if (reading.saturated_share > kSaturated)
    reading.warnings.push_back({"saturated", "part of the picture is over- or underexposed; edges there are shifted"});
  if (reading.edge_blur_px > kSoft)
    reading.warnings.push_back({"blurred", "edges are soft; focus, or use a sharper picture"});
}

cv::Rect without_drawn_frame(const ImageView& image) {
  constexpr int kWidest = 24;
  int left = 0, top = 0, right = image.width - 1, bottom = image.height - 1;
  while (top < std::min(kWidest, image.height) && is_even(image, 0, top, image.width - 1, top)) ++top;
  while (bottom > std::max(image.height - kWidest, top) && is_even(image, 0, bottom, image.width - 1, bottom)) --bottom;
  // A picture that is even as a whole is not a frame.
  if (top >= std::min(kWidest, image.height)) return {0, 0, image.width, image.height};
  while (left < std::min(kWidest, image.width) && is_even(image, left, top, left, bottom)) ++left;
  while (right > std::max(image.width - kWidest, left) && is_even(image, right, top, right, bottom)) --right;
  return {left, top, right - left + 1, bottom - top + 1};
}

std::optional<Failure> unusable_samples(const ImageView& image) {
  if (!within_range(image))
    return Failure{"frame", "unreadable", "samples are not finite or too large; export it again"};
  return std::nullopt;
}

std::optional<Failure> no_bodies(const ImageView& image, const FrameStatistics& frame, const Silhouettes& shapes,
                                 int most) {
  if (shapes.parts.count() > most)
    return Failure{"silhouettes", "too-many-bodies",
                   "more than " + std::to_string(most) +
                       " separate things stand out: texture or noise, not a specimen; choose the part of the picture "
                       "that shows it with --region"};
  if (shapes.contrast > 0.0 && shapes.parts.count() > 0) return std::nullopt;
  constexpr double kDark = 0.04;
  if (frame.high < kDark * image.white)
    return Failure{"silhouettes", "too-dark", "the whole field is dark; was the lamp off or the shutter closed?"};
  constexpr double kFull = 0.5;
  if (frame.saturated_share > kFull)
    return Failure{"silhouettes", "saturated", "most of the picture is over- or underexposed; change the exposure"};
  return nothing_stands_out("silhouettes");
}

void judge(SpecimenReading& reading, const SpecimenOptions& options, LeftOut left_out) {
  std::vector<Body>& bodies = reading.bodies;
  const std::size_t outlined = bodies.size();
  remove_doubles(bodies);
  reading.edge_blur_px = typical_blur(bodies);
  const double blur = options.edge_blur_px;
  int unresolved = 0;
  remove(bodies, [&](Body& body) {
    bool resolved = body.kind != BodyKind::fibre || correct_narrow_fibre(body, blur);
    const double breadth = resolved ? least_breadth(body) : 0.0;
    if (body.kind == BodyKind::grain) resolved = breadth >= kResolved * (blur > 0.0 ? blur : body.edge_blur_px);
    const bool speck = resolved && breadth < options.least_width_px;
    unresolved += !resolved, left_out.specks += speck;
    return !resolved || speck;
  });
  if (options.wanted == BodyWanted::either) left_out.specks += remove_specks(reading);
  std::stable_sort(bodies.begin(), bodies.end(),
                   [](const Body& a, const Body& b) { return a.at.y != b.at.y ? a.at.y < b.at.y : a.at.x < b.at.x; });
  warn_of_doubtful(reading);
  warn_of_left_out(reading, left_out, unresolved);
  warn_of_picture(reading);
  if (!bodies.empty()) return;
  if (unresolved > 0)
    reading.failure =
        Failure{"judgement", "unresolved", "all bodies are narrower than two blur widths; use a higher magnification"};
  else if (outlined > 0 || left_out.hidden + left_out.bundles + left_out.specks + left_out.drawn > 0)
    reading.failure = Failure{"judgement", "no-bodies",
                              "what stands out is dirt, marks, or has no clear edge; see the warnings, --kind and "
                              "--least-width"};
  else
    reading.failure = nothing_stands_out("judgement");
}

}  // namespace scale
