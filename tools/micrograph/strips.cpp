#include "strips.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace micrograph {
namespace {

constexpr double kAligned = 1e-4;  // turned by less than this, a pixel's mean separates along u and v
// Over a turned pixel u and v are uncorrelated, and the mean of a product differs from the product of means by at most
// 6e-5 / sigma^4: 4e-6 from here on.
constexpr double kSmooth = 2.0;

}  // namespace

/// One pixel in the strip's frame: position, gradients along the picture's x and y, blur.
struct StripPainter::Local {
  double u, v, ux, uy, vx, vy, sigma;
  int x, y;
};

StripPainter::StripPainter(const Scene& scene, const Raster& raster, Point origin, double angle, bool tabulate)
    : raster_(raster),
      origin_(origin),
      cosine_(std::cos(angle)),
      sine_(std::sin(angle)),
      blur_u_(blur_along(scene.optics, angle)),
      blur_v_(blur_along(scene.optics, angle + std::numbers::pi / 2.0)),
      pixel_nodes_(gauss_legendre(pixel_order(scene.optics.gaussian_px))) {
  const double relief_angle = scene.optics.relief_angle_deg * std::numbers::pi / 180.0 - angle;
  relief_u_ = scene.optics.relief_px * std::cos(relief_angle);
  relief_v_ = scene.optics.relief_px * std::sin(relief_angle);
  const Point middle = raster.map().middle();
  constexpr double kStep = 0.5;
  const Point right = frame_at(raster.map().to_object({middle.x + kStep, middle.y}));
  const Point left = frame_at(raster.map().to_object({middle.x - kStep, middle.y}));
  const Point below = frame_at(raster.map().to_object({middle.x, middle.y + kStep}));
  const Point above = frame_at(raster.map().to_object({middle.x, middle.y - kStep}));
  ux_ = right.x - left.x;
  vx_ = right.y - left.y;
  uy_ = below.x - above.x;
  vy_ = below.y - above.y;
  if (tabulate && raster.uniform()) {
    tables_u_ = {EdgeTable(blur_u_, std::abs(ux_), std::abs(uy_)), EdgeTable(blur_u_, 0.0, 0.0)};
    tables_v_ = {EdgeTable(blur_v_, std::abs(vx_), std::abs(vy_)), EdgeTable(blur_v_, 0.0, 0.0)};
  } else if (blur_u_.nodes.size() > 1 || blur_v_.nodes.size() > 1) {
    const double worst = raster.worst_sigma();
    focus_u_ = {FocusTables(blur_u_, worst, std::abs(ux_), std::abs(uy_)), FocusTables(blur_u_, worst, 0.0, 0.0)};
    focus_v_ = {FocusTables(blur_v_, worst, std::abs(vx_), std::abs(vy_)), FocusTables(blur_v_, worst, 0.0, 0.0)};
  }
}

StripPainter StripPainter::moved_to(Point origin) const {
  StripPainter moved = *this;
  moved.origin_ = origin;
  return moved;
}

Point StripPainter::frame_at(Point object) const {
  const double x = object.x - origin_.x;
  const double y = object.y - origin_.y;
  return {x * cosine_ + y * sine_, y * cosine_ - x * sine_};
}

StripPainter::Local StripPainter::local_at(int x, int y) const {
  const Point here = frame_at(raster_.object_at(x, y));
  if (raster_.map().affine()) return {here.x, here.y, ux_, uy_, vx_, vy_, blur_u_.sigma, x, y};
  const int xn = x + 1 < raster_.width() ? 1 : -1;
  const int yn = y + 1 < raster_.height() ? 1 : -1;
  const Point across = frame_at(raster_.object_at(x + xn, y));
  const Point down = frame_at(raster_.object_at(x, y + yn));
  return {here.x,
          here.y,
          xn * (across.x - here.x),
          yn * (down.x - here.x),
          xn * (across.y - here.y),
          yn * (down.y - here.y),
          blur_u_.sigma,
          x,
          y};
}

/// Blur belongs to the point of the line that is blurred, not to the pixel: each line stays symmetrical about its
/// centre though the focus changes across it.
double StripPainter::sigma_on_line(const Strip& strip, const Local& local) const {
  const bool runs_along_v = strip.v2 - strip.v1 >= strip.u2 - strip.u1;
  const double du = runs_along_v ? 0.5 * (strip.u1 + strip.u2) - local.u : 0.0;
  const double dv = runs_along_v ? 0.0 : 0.5 * (strip.v1 + strip.v2) - local.v;
  const double determinant = local.ux * local.vy - local.uy * local.vx;
  return raster_.sigma_at(local.x + (du * local.vy - dv * local.uy) / determinant,
                          local.y + (dv * local.ux - du * local.vx) / determinant);
}

EdgeValue StripPainter::along(Axis axis, int which, double distance, double sigma, double a, double b) const {
  const std::vector<EdgeTable>& tables = axis == Axis::u ? tables_u_ : tables_v_;
  if (!tables.empty()) return tables[which].at(distance);
  const std::vector<FocusTables>& focus = axis == Axis::u ? focus_u_ : focus_v_;
  if (!focus.empty()) return focus[which].at(distance, sigma, a, b);
  const Blur& blur = axis == Axis::u ? blur_u_ : blur_v_;
  const double reach = edge_reach(blur, a, b) + 5.5 * (sigma - blur.sigma);
  if (distance <= -reach) return {0.0, 0.0};
  if (distance >= reach) return {1.0, 0.0};
  return edge(blur, sigma, distance, a, b);
}

double StripPainter::bar_by_quadrature(const Strip& strip, const Local& local) const {
  double sum = 0.0;
  for (const BlurNode& ny : pixel_nodes_) {
    for (const BlurNode& nx : pixel_nodes_) {
      const double u = local.u + nx.offset * local.ux + ny.offset * local.uy;
      const double v = local.v + nx.offset * local.vx + ny.offset * local.vy;
      const EdgeValue u1 = along(Axis::u, 1, u - strip.u1, local.sigma, 0.0, 0.0);
      const EdgeValue u2 = along(Axis::u, 1, u - strip.u2, local.sigma, 0.0, 0.0);
      const EdgeValue v1 = along(Axis::v, 1, v - strip.v1, local.sigma, 0.0, 0.0);
      const EdgeValue v2 = along(Axis::v, 1, v - strip.v2, local.sigma, 0.0, 0.0);
      const double f = u1.value - u2.value;
      const double g = v1.value - v2.value;
      sum += nx.weight * ny.weight *
             (f * g + relief_u_ * (u1.slope - u2.slope) * g + relief_v_ * f * (v1.slope - v2.slope));
    }
  }
  return sum;
}

double StripPainter::bar_by_product(const Strip& strip, const Local& local) const {
  const double a = std::abs(local.ux);
  const double b = std::abs(local.uy);
  const double c = std::abs(local.vx);
  const double d = std::abs(local.vy);
  const EdgeValue u1 = along(Axis::u, 0, local.u - strip.u1, local.sigma, a, b);
  const EdgeValue u2 = along(Axis::u, 0, local.u - strip.u2, local.sigma, a, b);
  const EdgeValue v1 = along(Axis::v, 0, local.v - strip.v1, local.sigma, c, d);
  const EdgeValue v2 = along(Axis::v, 0, local.v - strip.v2, local.sigma, c, d);
  const double f = u1.value - u2.value;
  const double g = v1.value - v2.value;
  return f * g + relief_u_ * (u1.slope - u2.slope) * g + relief_v_ * f * (v1.slope - v2.slope);
}

double StripPainter::bar(const Strip& strip, const Local& local) const {
  const double extra = 5.5 * (local.sigma - blur_v_.sigma);
  const double reach = edge_reach(blur_v_, std::abs(local.vx), std::abs(local.vy)) + extra;
  const double a = std::abs(local.ux);
  const double b = std::abs(local.uy);
  if (local.v < strip.v1 + reach || local.v > strip.v2 - reach) {
    const bool separable = std::min(a, b) < kAligned || local.sigma >= kSmooth;
    return separable ? bar_by_product(strip, local) : bar_by_quadrature(strip, local);
  }
  if (!tables_u_.empty() && relief_u_ == 0.0) {
    return tables_u_[0].value(local.u - strip.u1) - tables_u_[0].value(local.u - strip.u2);
  }
  const EdgeValue u1 = along(Axis::u, 0, local.u - strip.u1, local.sigma, a, b);
  const EdgeValue u2 = along(Axis::u, 0, local.u - strip.u2, local.sigma, a, b);
  return u1.value - u2.value + relief_u_ * (u1.slope - u2.slope);
}

StripPainter::Rows StripPainter::rows_of(const Strip& strip, double margin_u, double margin_v) const {
  double low = 1e30;
  double high = -1e30;
  constexpr int kPoints = 8;  // along each side; a distorted side sags little between them
  for (int i = 0; i <= kPoints; ++i) {
    for (int side = 0; side < 4; ++side) {
      const double t = static_cast<double>(i) / kPoints;
      const double u_run = strip.u1 - margin_u + t * (strip.u2 - strip.u1 + 2.0 * margin_u);
      const double v_run = strip.v1 - margin_v + t * (strip.v2 - strip.v1 + 2.0 * margin_v);
      const double u = side < 2 ? u_run : (side == 2 ? strip.u1 - margin_u : strip.u2 + margin_u);
      const double v = side >= 2 ? v_run : (side == 0 ? strip.v1 - margin_v : strip.v2 + margin_v);
      const Point object{origin_.x + u * cosine_ - v * sine_, origin_.y + u * sine_ + v * cosine_};
      const double y = raster_.map().to_picture(object).y;
      low = std::min(low, y);
      high = std::max(high, y);
    }
  }
  const double slack = raster_.map().affine() ? 1.0 : 3.0;
  low = std::max(low - slack, 0.0);
  high = std::min(high + slack, raster_.height() - 1.0);
  return {static_cast<int>(std::floor(low)), static_cast<int>(std::ceil(high))};
}

namespace {

// Where along a row a nearly linear function of x reaches two values, widened by `slack`; false if never in the row.
// Looked for within a picture's width beside it: distortion turns back on itself farther out.
template <typename Function>
bool span_of_row(const Function& function, double slope, double low, double high, double slack, int width,
                 double& first, double& last) {
  constexpr double kFlat = 0.02;  // below it the row runs along the strip and this side does not bound it
  if (std::abs(slope) < kFlat) {
    const double value = function(0.5 * (first + last));
    const double spread = kFlat * width + slack * 4.0;
    return value > low - spread && value < high + spread;
  }
  double ends[2];
  const double targets[2] = {low, high};
  for (int i = 0; i < 2; ++i) {
    double x = 0.5 * width;
    const int rounds = slack > 1.0 ? 3 : 1;
    for (int k = 0; k < rounds; ++k) x = std::clamp(x + (targets[i] - function(x)) / slope, -1.0 * width, 2.0 * width);
    ends[i] = x;
  }
  first = std::max(first, std::min(ends[0], ends[1]) - slack);
  last = std::min(last, std::max(ends[0], ends[1]) + slack);
  return first <= last;
}

}  // namespace

bool StripPainter::clip_row(int y, const Strip& strip, double margin_u, double margin_v, int& first, int& last) const {
  const double slack = raster_.map().affine() ? 0.5 : 3.0;
  double low = 0.0;
  double high = raster_.width() - 1.0;
  const auto u_at = [&](double x) { return frame_at(raster_.map().to_object({x, static_cast<double>(y)})).x; };
  const auto v_at = [&](double x) { return frame_at(raster_.map().to_object({x, static_cast<double>(y)})).y; };
  if (!span_of_row(u_at, ux_, strip.u1 - margin_u, strip.u2 + margin_u, slack, raster_.width(), low, high))
    return false;
  if (!span_of_row(v_at, vx_, strip.v1 - margin_v, strip.v2 + margin_v, slack, raster_.width(), low, high))
    return false;
  first = std::max(0, static_cast<int>(std::floor(low)));
  last = std::min(raster_.width() - 1, static_cast<int>(std::ceil(high)));
  return first <= last;
}

void StripPainter::paint(const Strip& strip, Ink ink, Plane& plane) const {
  const double extra = 5.5 * (raster_.worst_sigma() - blur_u_.sigma);
  // 1.6: a pixel of a magnified or squeezed picture may be a little larger than one on the object.
  const double margin_u = edge_reach(blur_u_, 1.6, 0.0) + extra;
  const double margin_v = edge_reach(blur_v_, 1.6, 0.0) + extra;
  const Rows rows = rows_of(strip, margin_u, margin_v);
  for (int y = rows.first; y <= rows.last; ++y) {
    int first = 0;
    int last = 0;
    if (!clip_row(y, strip, margin_u, margin_v, first, last)) continue;
    float* row = plane.row(y);
    for (int x = first; x <= last; ++x) {
      Local local = local_at(x, y);
      if (local.u < strip.u1 - margin_u || local.u > strip.u2 + margin_u) continue;
      if (local.v < strip.v1 - margin_v || local.v > strip.v2 + margin_v) continue;
      if (!raster_.uniform()) local.sigma = sigma_on_line(strip, local);
      const float coverage = static_cast<float>(strip.amplitude * bar(strip, local));
      row[x] = ink == Ink::add ? row[x] + coverage : row[x] * (1.0F - coverage);
    }
  }
}

}  // namespace micrograph
