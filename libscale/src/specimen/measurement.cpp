#include <scale/measurement.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <boost/math/distributions/normal.hpp>

#include "specimen/narrow.h"
#include "specimen/polyline.h"
#include "specimen/shape.h"

namespace scale {
namespace {

// What interpolation, the raster and the smooth ground leave of an edge averaged along its length, pixels (standard).
// Judgement; the accuracy tests of rendered bodies stay below it.
constexpr double kMethod = 0.01;
// Standard uncertainty, relative, of the blur with which narrow bodies are corrected (judgement).
constexpr double kBlurShare = 0.05;

// Points of the picture in micrometres.
class Plane {
 public:
  explicit Plane(const LengthScale& scale) : scale_(scale) {
    const double half_diagonal = 0.5 * std::hypot(scale.width, scale.height);
    per_square_ = scale.kappa != 0.0 ? scale.kappa / (half_diagonal * half_diagonal) : 0.0;
    mean_ = frame_means(scale.kappa, scale.width, scale.height, scale.area);
  }
  cv::Point2d at(const PixelPoint& point) const {
    const double x = point.x - 0.5 * (scale_.width - 1), y = point.y - 0.5 * (scale_.height - 1);
    const double straight = 1.0 - per_square_ * (x * x + y * y);
    return {scale_.x_um_per_pixel * x * straight / mean_.x, scale_.y_um_per_pixel * y * straight / mean_.y};
  }
  // What is at right angles to a fibre in the picture is not on the slide where x and y have factors of their own: the
  // width over the distance of its two edges.
  double square_on(const LocalWidth& local) const {
    const double dx = local.left.x - local.right.x, dy = local.left.y - local.right.y;
    const double x = scale_.x_um_per_pixel, y = scale_.y_um_per_pixel;
    if (x == y) return 1.0;
    const double across = std::hypot(x * dx, y * dy) * std::hypot(x * dy, y * dx);
    return across > 0.0 ? x * y * (dx * dx + dy * dy) / across : 1.0;
  }
  // Micrometres a pixel, near enough for uncertainties.
  double typical() const { return 0.5 * (scale_.x_um_per_pixel + scale_.y_um_per_pixel); }

 private:
  LengthScale scale_;
  double per_square_ = 0.0;
  FrameMeans mean_;
};

// How far the half level of grey values would lie from that of light if they went as light to the power 1/2.2, pixels.
double curve_shift(const Body& body) {
  constexpr double kPower = 2.2;
  const double inside = std::pow(std::max(body.inside_level, 0.0), kPower);
  const double outside = std::pow(std::max(body.outside_level, 0.0), kPower);
  const double middle = std::pow(std::max(0.5 * (body.inside_level + body.outside_level), 0.0), kPower);
  if (inside == outside) return 0.0;
  const double share = std::clamp((middle - outside) / (inside - outside), 0.01, 0.99);
  return body.edge_blur_px * std::abs(boost::math::quantile(boost::math::normal(), share));
}

double stated_edge(const MeasurementConditions& conditions) {
  return conditions.edge_uncertainty ? conditions.edge_uncertainty->value : 0.0;
}

// Standard uncertainty, in micrometres, of one edge by what all edges of a set-up share.
double shared_edge(const Body& body, const MeasurementConditions& conditions, double factor) {
  const double stated = stated_edge(conditions);
  double pixels = 0.0;
  // Anywhere between no curve and that one.
  if (conditions.grey == GreyCurve::unknown) pixels = curve_shift(body) / std::sqrt(3.0);
  const double rim = body.rim_doubt_px;
  return std::sqrt(stated * stated + factor * factor * (pixels * pixels + rim * rim));
}

double narrow_part(const Body& body, double width_px) {
  if (body.rimmed || body.blur_correction_px == 0.0 || body.kind != BodyKind::fibre) return 0.0;
  const double measured = width_px - 2.0 * body.blur_correction_px, blur = body.edge_blur_px;
  return std::abs(bar_width(measured, blur * (1.0 + kBlurShare)) - bar_width(measured, blur));
}

double relative_shared(const LengthScale& scale) {
  return std::hypot(scale.relative_uncertainty, scale.local_uncertainty);
}

void note(MeasuredBody& measured, const Body& body, const MeasurementConditions& conditions) {
  if ((body.at_border || body.end_hidden) && body.kind == BodyKind::fibre) measured.notes.push_back("length-at-least");
  if (body.crossed) measured.notes.push_back("crossed");
  if (body.rimmed) measured.notes.push_back("rimmed");
  if (body.round_edge) measured.notes.push_back("round-edge");
  if (body.necked) measured.notes.push_back("necked");
  if (body.bubble_like) measured.notes.push_back("bubble-like");
  if (body.line_inside) measured.notes.push_back("line-inside");
  if (body.line_beside) measured.notes.push_back("line-beside");
  if (body.parted) measured.notes.push_back("parted");
  if (!body.rimmed && std::abs(body.blur_correction_px) > 0.01) measured.notes.push_back("blur-corrected");
  if (!conditions.edge_uncertainty) measured.notes.push_back("edge-not-stated");
}

struct LocalWidths {
  std::vector<double> um;
  double px = 0.0;  // mean
};

LocalWidths local_widths(const Body& body, const Plane& plane, double shift) {
  LocalWidths widths;
  for (const LocalWidth& local : body.widths) {
    if (!local.used) continue;
    const double along_line = cv::norm(plane.at(local.left) - plane.at(local.right));
    widths.um.push_back(along_line * (body.kind == BodyKind::fibre ? plane.square_on(local) : 1.0) + 2.0 * shift);
    widths.px += std::hypot(local.left.x - local.right.x, local.left.y - local.right.y);
  }
  widths.px /= std::max<double>(1.0, static_cast<double>(widths.um.size()));
  return widths;
}

MeasuredBody measured_fibre(const Body& body, const Plane& plane, const MeasurementConditions& conditions) {
  MeasuredBody result;
  const LocalWidths widths = local_widths(body, plane, conditions.edge_shift.value);
  const double factor = plane.typical(), count = static_cast<double>(widths.um.size());
  double sum = 0.0, squares = 0.0;
  for (const double width : widths.um) sum += width;
  result.width_um.value = sum / count;
  for (const double width : widths.um) squares += std::pow(width - result.width_um.value, 2);
  if (body.kind == BodyKind::fibre) {
    result.width_min_um = *std::min_element(widths.um.begin(), widths.um.end());
    result.width_max_um = *std::max_element(widths.um.begin(), widths.um.end());
    result.width_sd_um = count > 1.0 ? std::sqrt(squares / (count - 1.0)) : 0.0;
  }
  const double independent = std::max(1.0, count / body.edge_length_px);
  const double noise = body.edge_noise_px * std::sqrt(2.0 / independent);
  result.width_um.own = factor * std::hypot(noise, std::sqrt(2.0) * kMethod);
  const double edge = shared_edge(body, conditions, factor);
  const double narrow = factor * narrow_part(body, widths.px);
  const double scale = relative_shared(conditions.scale) * result.width_um.value;
  result.width_um.shared = std::sqrt(4.0 * edge * edge + narrow * narrow + scale * scale);
  result.width_um.rectangular = 2.0 * stated_edge(conditions);
  if (body.centre.size() < 2) return result;
  std::vector<cv::Point2d> line;
  for (const PixelPoint& point : body.centre) line.push_back(plane.at(point));
  MeasuredValue length{length_of(line) + 2.0 * conditions.edge_shift.value, 0.0, 0.0, 2.0 * stated_edge(conditions)};
  // A tip is no straight edge: a tenth of the width each (judgement).
  length.own = std::sqrt(2.0) * std::hypot(factor * body.edge_noise_px, 0.1 * result.width_um.value);
  length.shared = std::hypot(2.0 * edge, relative_shared(conditions.scale) * length.value);
  result.length_um = length;
  return result;
}

// The outline moved out of the body by `shift`.
std::vector<cv::Point2d> widened(std::vector<cv::Point2d> outline, double shift) {
  if (shift == 0.0) return outline;
  const double outward = signed_area(outline) > 0.0 ? -1.0 : 1.0;
  const std::vector<cv::Point2d> normals = normals_of(outline, true);
  for (std::size_t i = 0; i < outline.size(); ++i) outline[i] += normals[i] * (outward * shift);
  return outline;
}

// `frame`: pixels of what was looked at.
double frame_weight(const std::vector<cv::Point2d>& outline, const LengthScale& scale, cv::Size frame) {
  double x1 = 1e300, x2 = -1e300, y1 = 1e300, y2 = -1e300;
  for (const cv::Point2d& point : outline) {
    x1 = std::min(x1, point.x), x2 = std::max(x2, point.x);
    y1 = std::min(y1, point.y), y2 = std::max(y2, point.y);
  }
  const double wide = frame.width * scale.x_um_per_pixel, high = frame.height * scale.y_um_per_pixel;
  const double free_x = wide - (x2 - x1), free_y = high - (y2 - y1);
  return free_x > 0.0 && free_y > 0.0 ? wide * high / (free_x * free_y) : 0.0;
}

OutlineSizes sizes_of_points(const std::vector<cv::Point2d>& outline) {
  OutlineSizes sizes;
  sizes.area = std::abs(signed_area(outline)), sizes.perimeter = perimeter(outline);
  const std::vector<cv::Point2d> hull = hull_of(outline);
  sizes.feret_min = least_feret(hull), sizes.feret_max = largest_feret(hull);
  const double hull_area = std::abs(signed_area(hull)), round = 4.0 * kPi * sizes.area;
  if (!(sizes.perimeter > 0.0) || !(sizes.feret_max > 0.0) || !(hull_area > 0.0)) return sizes;
  const double diameter = std::sqrt(4.0 * sizes.area / kPi);
  sizes.shape = {std::sqrt(round) / sizes.perimeter,
                 round / (sizes.perimeter * sizes.perimeter),
                 4.0 * sizes.area / (kPi * sizes.feret_max * sizes.feret_max),
                 diameter / sizes.feret_max,
                 sizes.feret_min / sizes.feret_max,
                 sizes.area / hull_area,
                 perimeter(hull) / sizes.perimeter};
  return sizes;
}

MeasuredBody measured_grain(const Body& body, const Plane& plane, const MeasurementConditions& conditions,
                            cv::Size frame) {
  MeasuredBody result;
  std::vector<cv::Point2d> outline;
  for (const PixelPoint& point : body.outline) outline.push_back(plane.at(point));
  outline = widened(std::move(outline), conditions.edge_shift.value);
  const OutlineSizes sizes = sizes_of_points(outline);
  const double factor = plane.typical(), edge = shared_edge(body, conditions, factor);
  const double relative = relative_shared(conditions.scale);
  const double independent = std::max(1.0, sizes.perimeter / factor / body.edge_length_px);
  const double edge_mean = factor * std::hypot(body.edge_noise_px / std::sqrt(independent), kMethod);
  result.width_um.value = sizes.feret_min;
  // The least breadth rests on two places of the outline.
  result.width_um.own = factor * std::sqrt(2.0) * std::hypot(body.edge_noise_px, kMethod);
  result.width_um.shared = std::hypot(2.0 * edge, relative * sizes.feret_min);
  result.width_um.rectangular = 2.0 * stated_edge(conditions);
  result.feret_max_um = sizes.feret_max;
  result.perimeter_um = sizes.perimeter;
  result.area_um2 = MeasuredValue{sizes.area, sizes.perimeter * edge_mean,
                                  std::hypot(sizes.perimeter * edge, 2.0 * relative * sizes.area),
                                  sizes.perimeter * stated_edge(conditions)};
  result.equivalent_diameter_um = std::sqrt(4.0 * sizes.area / kPi);
  result.shape = sizes.shape;
  result.weight = body.at_border ? 0.0 : frame_weight(outline, conditions.scale, frame);
  return result;
}

}  // namespace

FrameMeans frame_means(double kappa, int width, int height, const std::optional<MeasuringArea>& area) {
  if (kappa == 0.0) return {};
  const MeasuringArea of =
      area.value_or(MeasuringArea{-0.5, -0.5, static_cast<double>(width), static_cast<double>(height)});
  const auto mean_square = [](double from, double length, int size) {
    const double middle = from + 0.5 * length - 0.5 * (size - 1);
    return middle * middle + length * length / 12.0;
  };
  // Along x the factor goes with 1 - kappa (3 x^2 + y^2) / R^2.
  const double square = 0.25 * (width * static_cast<double>(width) + height * static_cast<double>(height));
  const double x = mean_square(of.x, of.width, width) / square, y = mean_square(of.y, of.height, height) / square;
  return {1.0 - kappa * (3.0 * x + y), 1.0 - kappa * (x + 3.0 * y)};
}

OutlineSizes sizes_of(std::span<const PixelPoint> outline) {
  std::vector<cv::Point2d> points;
  for (const PixelPoint& point : outline) points.emplace_back(point.x, point.y);
  return sizes_of_points(points);
}

double expanded_with_limits(double normal, double rectangular) {
  const double standard = std::hypot(normal, rectangular), half = std::sqrt(3.0) * rectangular;
  if (rectangular < 1e-6 * standard || standard == 0.0) return 2.0 * standard;
  const double sigma = std::max(normal, 1e-6 * standard);
  const boost::math::normal gauss(0.0, sigma);
  // Antiderivative of the normal distribution function.
  const auto area = [&](double x) {
    return x * boost::math::cdf(gauss, x) + sigma * sigma * boost::math::pdf(gauss, x);
  };
  const auto covered = [&](double reach) {
    return (area(reach + half) - area(reach - half) - area(half - reach) + area(-half - reach)) / (2.0 * half);
  };
  double low = standard, high = 2.1 * standard;
  for (int i = 0; i < 50; ++i) {
    const double middle = 0.5 * (low + high);
    (covered(middle) < kCoverageProbability ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double MeasuredValue::standard() const { return std::hypot(own, shared); }

double MeasuredValue::expanded() const {
  return expanded_with_limits(std::sqrt(std::max(0.0, own * own + shared * shared - rectangular * rectangular)),
                              rectangular);
}

Micrometres edge_convention_uncertainty(double aperture, Micrometres wavelength) {
  return {0.11 * wavelength.value / aperture / std::sqrt(3.0)};
}

std::vector<MeasuredBody> measure_bodies(const SpecimenReading& reading, const MeasurementConditions& conditions) {
  MeasurementConditions here = conditions;
  if (!(here.scale.x_um_per_pixel > 0.0) || !(here.scale.y_um_per_pixel > 0.0))
    throw std::invalid_argument("measure_bodies: the factor must be positive");
  if (here.scale.width == 0) here.scale.width = reading.width, here.scale.height = reading.height;
  const Plane plane(here.scale);
  const cv::Size frame(reading.width, reading.height);
  std::vector<MeasuredBody> result;
  for (const Body& body : reading.bodies) {
    MeasuredBody measured =
        body.kind == BodyKind::grain ? measured_grain(body, plane, here, frame) : measured_fibre(body, plane, here);
    measured.kind = body.kind;
    measured.at = body.at;
    measured.at_border = body.at_border;
    note(measured, body, here);
    result.push_back(std::move(measured));
  }
  return result;
}

}  // namespace scale
