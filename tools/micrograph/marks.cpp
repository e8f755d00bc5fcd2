#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "clutter.h"
#include "font.h"
#include "micrograph/random.h"

namespace micrograph {
namespace {

struct Pen {
  Samples& samples;
  float colour[3];

  void box(double x1, double y1, double x2, double y2) const {
    const int left = std::max(0, static_cast<int>(x1));
    const int right = std::min(samples.width, static_cast<int>(x2));
    const int top = std::max(0, static_cast<int>(y1));
    const int bottom = std::min(samples.height, static_cast<int>(y2));
    for (int y = top; y < bottom; ++y) {
      for (int x = left; x < right; ++x) {
        for (int c = 0; c < samples.channels; ++c) at(x, y, c) = colour[c];
      }
    }
  }

  void line(double x1, double y1, double x2, double y2, double width) const {
    const double length = std::hypot(x2 - x1, y2 - y1);
    const int steps = static_cast<int>(length) + 1;
    for (int i = 0; i <= steps; ++i) {
      const double x = x1 + (x2 - x1) * i / steps;
      const double y = y1 + (y2 - y1) * i / steps;
      box(x - 0.5 * width, y - 0.5 * width, x + 0.5 * width + 0.5, y + 0.5 * width + 0.5);
    }
  }

  float& at(int x, int y, int c) const {
    return samples.data[(static_cast<std::size_t>(y) * samples.width + x) * samples.channels + c];
  }
};

Pen random_pen(Samples& samples, Random& random) {
  const float value = random.chance(0.5) ? 1.0F : 0.0F;
  if (samples.channels == 3 && random.chance(0.4))
    return {samples, {1.0F - value, random.chance(0.5) ? 1.0F : 0.0F, value}};
  return {samples, {value, value, value}};
}

std::string random_label(Random& random) {
  static constexpr std::string_view kLetters = "ABCDEFGHIJKLMNOPRSTUVWXYZ0123456789";
  std::string text;
  if (random.chance(0.4)) return std::to_string(random.integer(1, 20) * 10) + " um";
  const int letters = random.integer(3, 14);
  for (int i = 0; i < letters; ++i) {
    text += random.chance(0.12) ? ' ' : kLetters[static_cast<std::size_t>(random.integer(0, 34))];
  }
  return text;
}

void write_label(const Pen& pen, Random& random) {
  const std::string text = random_label(random);
  const double unit = random.uniform(2.0, 6.0);
  const double left = random.uniform(0.0, 0.8) * pen.samples.width;
  const double top = random.uniform(0.02, 0.92) * pen.samples.height;
  if (random.chance(0.35)) {
    Pen paper = pen;
    for (float& value : paper.colour) value = 1.0F - value;
    paper.box(left - 2.0 * unit, top - 2.0 * unit,
              left + unit * (kGlyphAdvance * static_cast<double>(text.size()) + 1.0), top + 8.0 * unit);
  }
  const double width = std::max(1.0, unit * random.uniform(0.5, 1.1));
  for (const Stroke& s : strokes_of(text)) {
    pen.line(left + unit * s.x1, top + unit * s.y1, left + unit * s.x2, top + unit * s.y2, width);
  }
}

void draw_bar(const Pen& pen, Random& random) {
  const double w = pen.samples.width;
  const double h = pen.samples.height;
  const double x = random.uniform(0.05, 0.7) * w;
  const double y = random.uniform(0.05, 0.93) * h;
  const double length = random.uniform(0.06, 0.3) * w;
  const double thick = random.uniform(2.0, 14.0);
  switch (random.integer(0, 3)) {
    case 0:
      pen.box(x, y, x + length, y + thick);
      break;
    case 1:
      pen.line(x, y, x + length, y, 0.3 * thick);
      pen.line(x, y - 2.0 * thick, x, y + 2.0 * thick, 0.3 * thick);
      pen.line(x + length, y - 2.0 * thick, x + length, y + 2.0 * thick, 0.3 * thick);
      break;
    case 2: {
      const double angle = random.uniform(0.0, 2.0 * std::numbers::pi);
      const double tip_x = x + length * std::cos(angle);
      const double tip_y = y + length * std::sin(angle);
      pen.line(x, y, tip_x, tip_y, 0.4 * thick);
      for (const double side : {2.6, -2.6}) {
        pen.line(tip_x, tip_y, tip_x + 20.0 * std::cos(angle + side), tip_y + 20.0 * std::sin(angle + side),
                 0.4 * thick);
      }
      break;
    }
    default:
      pen.box(0, 0, w, 0.5 * thick);
      pen.box(0, h - 0.5 * thick, w, h);
      pen.box(0, 0, 0.5 * thick, h);
      pen.box(w - 0.5 * thick, 0, w, h);
  }
}

}  // namespace

void draw_marks(const Scene& scene, Samples& samples) {
  Random random(scene.seed, 0x3a2c5);
  for (int i = 0; i < scene.clutter.texts; ++i) write_label(random_pen(samples, random), random);
  for (int i = 0; i < scene.clutter.bars; ++i) draw_bar(random_pen(samples, random), random);
}

}  // namespace micrograph
