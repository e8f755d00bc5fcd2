#include "lines.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "font.h"
#include "graduations.h"

namespace micrograph {
namespace {

void add_line(const StripPainter& painter, const Graduation& line, double offset, Plane& coverage) {
  const double u1 = line.u + offset - 0.5 * line.width;
  const double u2 = line.u + offset + 0.5 * line.width;
  double from = line.v1;
  for (const auto& [gap_from, gap_to] : line.gaps) {
    if (gap_from > from) painter.paint({u1, u2, from, gap_from, line.amplitude}, Ink::add, coverage);
    from = std::max(from, gap_to);
  }
  if (from < line.v2) painter.paint({u1, u2, from, line.v2, line.amplitude}, Ink::add, coverage);
}

void fold(const Plane& coverage, Plane& light) {
  for (std::size_t i = 0; i < light.data.size(); ++i) light.data[i] *= 1.0F - coverage.data[i];
}

Point on_object(const LineScale& scale, double u, double v) {
  const double angle = scale.angle_deg * std::numbers::pi / 180.0;
  return {scale.origin_x + u * std::cos(angle) - v * std::sin(angle),
          scale.origin_y + u * std::sin(angle) + v * std::cos(angle)};
}

void draw_numerals(const Scene& scene, const Raster& raster, const LineScale& scale,
                   const std::vector<Graduation>& lines, Plane& light) {
  Painters painters;
  for (const Graduation& line : lines) {
    if (line.number % 10 != 0) continue;
    const std::string text = std::to_string(line.number);
    const double unit = scale.numeral_px / kGlyphHeight;
    const double width = (kGlyphAdvance * static_cast<double>(text.size()) - 2.0) * unit;
    Lettering lettering;
    lettering.at = on_object(scale, line.nominal_u - 0.5 * width, line.v2 + 0.4 * scale.numeral_px);
    lettering.angle = scale.angle_deg * std::numbers::pi / 180.0;
    lettering.height = scale.numeral_px;
    lettering.stroke = std::min(scale.line_width_px, 0.16 * scale.numeral_px);
    lettering.amplitude = std::min(1.0, std::abs(scale.amplitude)) * (scale.amplitude < 0.0 ? -1.0 : 1.0);
    draw_text(scene, raster, text, lettering, painters, light);
  }
}

void draw_scale(const Scene& scene, const Raster& raster, std::size_t index, Plane& coverage, Plane& light) {
  const LineScale& scale = scene.scales[index];
  const double angle = scale.angle_deg * std::numbers::pi / 180.0;
  const StripPainter painter(scene, raster, {scale.origin_x, scale.origin_y}, angle, true);
  const std::vector<Graduation> lines = graduations(scene, index);
  std::fill(coverage.data.begin(), coverage.data.end(), 0.0F);
  for (const Graduation& line : lines) {
    if (line.missing) continue;
    add_line(painter, line, 0.0, coverage);
    if (scale.pair_offset_px != 0.0) add_line(painter, line, scale.pair_offset_px, coverage);
  }
  fold(coverage, light);
  if (scale.base_line_px > 0.0) {
    const double half = 0.5 * scale.base_line_px;
    painter.paint({-0.5 * scale.line_width_px, (scale.count - 1) * scale.pitch_px + 0.5 * scale.line_width_px, -half,
                   half, scale.amplitude},
                  Ink::cover, light);
  }
  if (scale.numeral_px > 0.0) draw_numerals(scene, raster, scale, lines, light);
}

}  // namespace

void draw_scales(const Scene& scene, const Raster& raster, Plane& light) {
  Plane coverage(scene.width, scene.height, 0.0F);
  for (std::size_t i = 0; i < scene.scales.size(); ++i) {
    if (scene.scales[i].defocus_px == 0.0) {
      draw_scale(scene, raster, i, coverage, light);
      continue;
    }
    Scene own = scene;
    own.optics.gaussian_px = std::hypot(scene.optics.gaussian_px, scene.scales[i].defocus_px);
    draw_scale(own, raster, i, coverage, light);
  }
}

void draw_text(const Scene& scene, const Raster& raster, std::string_view text, const Lettering& lettering,
               Painters& painters, Plane& light) {
  const double unit = lettering.height / kGlyphHeight;
  const double half = 0.5 * lettering.stroke;
  for (const Stroke& stroke : strokes_of(text)) {
    // Across the stroke is u, along it v, so that only its ends need quadrature.
    const double angle = std::atan2(stroke.y2 - stroke.y1, stroke.x2 - stroke.x1) - 0.5 * std::numbers::pi;
    const auto [place, fresh] =
        painters.try_emplace(lettering.angle + angle, scene, raster, lettering.at, lettering.angle + angle, true);
    const StripPainter painter = place->second.moved_to(lettering.at);
    const double c = unit * std::cos(angle);
    const double s = unit * std::sin(angle);
    const double u = stroke.x1 * c + stroke.y1 * s;
    const double v1 = stroke.y1 * c - stroke.x1 * s;
    const double v2 = stroke.y2 * c - stroke.x2 * s;
    painter.paint({u - half, u + half, v1 - half, v2 + half, lettering.amplitude}, Ink::cover, light);
  }
}

void draw_ring(const Scene& scene, const Raster& raster, Plane& light) {
  if (scene.ring.radius_px <= 0.0) return;
  const Blur blur = blur_along(scene.optics, 0.0);
  const EdgeTable table(blur, 1.0, 0.0);
  const double inner = scene.ring.radius_px - 0.5 * scene.ring.width_px;
  const double outer = scene.ring.radius_px + 0.5 * scene.ring.width_px;
  for (int y = 0; y < scene.height; ++y) {
    float* row = light.row(y);
    for (int x = 0; x < scene.width; ++x) {
      const Point object = raster.object_at(x, y);
      const double r = std::hypot(object.x - scene.ring.x, object.y - scene.ring.y);
      const double coverage = table.value(r - inner) - table.value(r - outer);
      row[x] *= static_cast<float>(1.0 - scene.ring.amplitude * coverage);
    }
  }
}

}  // namespace micrograph
