#include "residual_strip.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "canvas.h"
#include "text.h"

namespace gradus {
namespace {

constexpr int kLeft = 92, kRight = 28, kTop = 40, kBottom = 50;

// Maps division numbers and micrometres to the pixels of the strip.
struct Axes {
  cv::Rect frame;
  double first = 0.0, last = 1.0;  // division numbers at the left and right rim
  double limit = 1.0;              // micrometres at the upper rim; the lower is -limit

  double x(double index) const { return frame.x + (index - first) / (last - first) * frame.width; }
  double y(double um) const { return frame.y + (0.5 - 0.5 * um / limit) * frame.height; }
};

// 1, 2 or 5 times a power of ten, so that at most `most` steps fit `range`.
double round_step(double range, int most) {
  const double least = range / most;
  const double decade = std::pow(10.0, std::floor(std::log10(least)));
  for (const double step : {1.0, 2.0, 5.0})
    if (step * decade >= least) return step * decade;
  return 10.0 * decade;
}

// The smooth part of the departure at a division number, pixels: a polynomial in z from -1 to 1 over the span.
double smooth_departure(const scale::Ruling& ruling, double index) {
  const double first = ruling.graduations.front().index, last = ruling.graduations.back().index;
  const double z = 2.0 * (index - first) / (last - first) - 1.0;
  double value = 0.0;
  for (auto term = ruling.nonlinearity.rbegin(); term != ruling.nonlinearity.rend(); ++term) value = value * z + *term;
  return value;
}

double departure(const scale::Ruling& ruling, const scale::Graduation& graduation) {
  return smooth_departure(ruling, graduation.index) + graduation.residual_px;
}

Axes axes_for(const cv::Mat& strip, const scale::Ruling& ruling, double um_per_pixel) {
  double largest = 0.0;
  for (const scale::Graduation& graduation : ruling.graduations)
    if (graduation.used)
      largest = std::max(largest, std::abs(departure(ruling, graduation)) + graduation.uncertainty_px);
  Axes axes;
  axes.frame = {kLeft, kTop, strip.cols - kLeft - kRight, strip.rows - kTop - kBottom};
  const double first = ruling.graduations.front().index, last = ruling.graduations.back().index;
  const double margin = 0.02 * (last - first) + 0.2;
  axes.first = first - margin;
  axes.last = last + margin;
  // Residuals of exactly zero still need an axis: a thousandth of a pixel.
  axes.limit = 1.15 * um_per_pixel * std::max(largest, 1e-3);
  return axes;
}

void draw_vertical_scale(cv::Mat& strip, const Axes& axes) {
  const double step = round_step(2.0 * axes.limit, 6);
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  const int most = static_cast<int>(axes.limit / step);
  for (int tick = -most; tick <= most; ++tick) {
    const double y = axes.y(tick * step);
    const cv::Scalar& ink = tick == 0 ? canvas::kInk : canvas::kFaint;
    canvas::line(strip, {1.0 * axes.frame.x, y}, {1.0 * axes.frame.br().x, y}, ink);
    const std::string label = fixed(tick * step, decimals);
    const int width = canvas::text_extent(label).width;
    canvas::write(strip, label, {axes.frame.x - 8 - width, cvRound(y) + 4});
  }
}

void draw_horizontal_scale(cv::Mat& strip, const Axes& axes) {
  const double step = std::max(1.0, round_step(axes.last - axes.first, 12));
  const int last = static_cast<int>(std::floor(axes.last / step));
  for (int i = static_cast<int>(std::ceil(axes.first / step)); i <= last; ++i) {
    const double tick = i * step;
    const double x = axes.x(tick);
    const int bottom = axes.frame.br().y;
    canvas::line(strip, {x, 1.0 * bottom}, {x, bottom + 5.0}, canvas::kInk);
    const std::string label = fixed(tick, 0);
    canvas::write(strip, label, {cvRound(x) - canvas::text_extent(label).width / 2, bottom + 19});
  }
}

void draw_captions(cv::Mat& strip, const Axes& axes, const scale::Ruling& ruling, double um_per_pixel,
                   const std::string& name) {
  const double rms = ruling.residual_rms_px * um_per_pixel, largest = ruling.residual_max_px * um_per_pixel;
  const int decimals = decimals_for(rms > 0.0 ? rms : 1e-3);
  const std::string along =
      (name.empty() ? "" : " of the " + name) + " along " + fixed(scale::degrees(ruling.direction), 2) + " deg";
  const std::string scatter = "rms " + fixed(rms, decimals) + " um, largest " + fixed(largest, decimals) + " um";
  const bool curved = !ruling.nonlinearity.empty();
  const std::string title = curved ? "Departures from even division" + along + "; residuals about the curve: " + scatter
                                   : "Residuals" + along + ": " + scatter;
  canvas::write(strip, title, {axes.frame.x, 25});
  const std::string key =
      std::string("bars: 1 standard uncertainty; x: not used") + (curved ? "; curve: non-linearity" : "");
  const int key_width = canvas::text_extent(key).width;
  canvas::write(strip, key, {axes.frame.br().x - key_width, strip.rows - 10});
  canvas::write(strip, "division number in this picture", {axes.frame.x, strip.rows - 10});
  canvas::write(strip, "um", {16, 25});
}

void draw_graduations(cv::Mat& strip, const Axes& axes, const scale::Ruling& ruling, double um_per_pixel) {
  constexpr double kRoomForLargeDots = 8.0;
  const double radius = axes.x(1.0) - axes.x(0.0) < kRoomForLargeDots ? 1.8 : 3.0;
  for (const scale::Graduation& graduation : ruling.graduations) {
    const double um = departure(ruling, graduation) * um_per_pixel, half_bar = graduation.uncertainty_px * um_per_pixel;
    const double x = axes.x(graduation.index);
    if (graduation.used) {
      canvas::line(strip, {x, axes.y(um - half_bar)}, {x, axes.y(um + half_bar)}, canvas::kBlue);
      canvas::dot(strip, {x, axes.y(um)}, radius, canvas::kBlue);
    } else {
      canvas::cross(strip, {x, axes.y(std::clamp(um, -axes.limit, axes.limit))}, canvas::kVermillion);
    }
  }
}

void draw_nonlinearity(cv::Mat& strip, const Axes& axes, const scale::Ruling& ruling, double um_per_pixel) {
  if (ruling.nonlinearity.empty()) return;
  constexpr int kSteps = 200;
  const double first = ruling.graduations.front().index, last = ruling.graduations.back().index;
  const auto point = [&](int step) {
    const double index = first + (last - first) * step / kSteps;
    const double um = smooth_departure(ruling, index) * um_per_pixel;
    return cv::Point2d{axes.x(index), axes.y(std::clamp(um, -axes.limit, axes.limit))};
  };
  for (int step = 0; step < kSteps; ++step) canvas::line(strip, point(step), point(step + 1), canvas::kOrange, 2);
}

}  // namespace

void draw_residual_strip(cv::Mat strip, const scale::Ruling& ruling, double um_per_pixel, const std::string& name) {
  const Axes axes = axes_for(strip, ruling, um_per_pixel);
  draw_vertical_scale(strip, axes);
  draw_horizontal_scale(strip, axes);
  cv::rectangle(strip, axes.frame, canvas::kFaint, 1);
  draw_captions(strip, axes, ruling, um_per_pixel, name);
  draw_nonlinearity(strip, axes, ruling, um_per_pixel);
  draw_graduations(strip, axes, ruling, um_per_pixel);
}

}  // namespace gradus
