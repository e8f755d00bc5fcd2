#include "bodies.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace micrograph {
namespace {

constexpr int kFine = 3;        // cells a pixel and direction
constexpr int kBandRows = 192;  // of pixels drawn at a time, which bounds the memory
constexpr float kFar = 1e9F;

/// A horizontal part of the picture on the fine raster: rows from `top` (fine cells).
struct Band {
  Plane share;
  int top;
};

double centre_of_cell(int cell) { return (cell + 0.5) / kFine - 0.5; }
int cell_of(double position) { return static_cast<int>(std::floor((position + 0.5) * kFine)); }

struct Reach {
  int x1, x2, y1, y2;
};

Reach reach_of(const Band& band, double x1, double x2, double y1, double y2) {
  return {std::max(0, cell_of(x1)), std::min(band.share.width - 1, cell_of(x2)), std::max(0, cell_of(y1) - band.top),
          std::min(band.share.height - 1, cell_of(y2) - band.top)};
}

/// Signed distances from the edge, positive inside, of one body within one band.
class Distances {
 public:
  Distances(const Body& body, const Band& band) : body_(body), band_(band), count_(body.points.size() / 2) {
    double x1 = 1e9, x2 = -1e9, y1 = 1e9, y2 = -1e9;
    for (std::size_t i = 0; i < count_; ++i) {
      x1 = std::min(x1, body.points[2 * i]), x2 = std::max(x2, body.points[2 * i]);
      y1 = std::min(y1, body.points[2 * i + 1]), y2 = std::max(y2, body.points[2 * i + 1]);
    }
    const double margin = body.fibre ? 0.75 * body.width_px + 2.0 : 2.0;
    box_ = reach_of(band, x1 - margin, x2 + margin, y1 - margin, y2 + margin);
    if (box_.x1 > box_.x2 || box_.y1 > box_.y2) return;
    values_.assign(static_cast<std::size_t>(box_.x2 - box_.x1 + 1) * (box_.y2 - box_.y1 + 1), -kFar);
    body.fibre ? fibre() : grain();
  }
  bool empty() const { return values_.empty(); }
  const Reach& box() const { return box_; }
  float at(int x, int y) const {
    return values_[static_cast<std::size_t>(y - box_.y1) * (box_.x2 - box_.x1 + 1) + (x - box_.x1)];
  }

 private:
  float& at(int x, int y) {
    return values_[static_cast<std::size_t>(y - box_.y1) * (box_.x2 - box_.x1 + 1) + (x - box_.x1)];
  }

  template <class Visit>
  void near_segment(std::size_t i, double margin, const Visit& visit) {
    const std::size_t j = (i + 1) % count_;
    const double ax = body_.points[2 * i], ay = body_.points[2 * i + 1];
    const double dx = body_.points[2 * j] - ax, dy = body_.points[2 * j + 1] - ay;
    const double square = std::max(dx * dx + dy * dy, 1e-12);
    const Reach reach = reach_of(band_, std::min(ax, ax + dx) - margin, std::max(ax, ax + dx) + margin,
                                 std::min(ay, ay + dy) - margin, std::max(ay, ay + dy) + margin);
    for (int y = std::max(reach.y1, box_.y1); y <= std::min(reach.y2, box_.y2); ++y) {
      const double py = centre_of_cell(y + band_.top) - ay;
      for (int x = std::max(reach.x1, box_.x1); x <= std::min(reach.x2, box_.x2); ++x) {
        const double px = centre_of_cell(x) - ax;
        const double share = std::clamp((px * dx + py * dy) / square, 0.0, 1.0);
        visit(at(x, y), std::hypot(px - share * dx, py - share * dy), share);
      }
    }
  }

  void fibre() {
    double length = 0.0, along = 0.0;
    std::vector<double> steps;
    for (std::size_t i = 0; i + 1 < count_; ++i) {
      steps.push_back(
          std::hypot(body_.points[2 * i + 2] - body_.points[2 * i], body_.points[2 * i + 3] - body_.points[2 * i + 1]));
      length += steps.back();
    }
    for (std::size_t i = 0; i + 1 < count_; along += steps[i++])
      near_segment(i, 0.75 * body_.width_px + 2.0, [&](float& value, double distance, double share) {
        const double inside = 0.5 * width_at(body_, along + share * steps[i], length) - distance;
        value = std::max(value, static_cast<float>(inside));
      });
  }

  void grain() {
    // Distance from the outline, by nearest segment; the sign by counting crossings to the left.
    for (float& value : values_) value = kFar;
    for (std::size_t i = 0; i < count_; ++i)
      near_segment(i, body_.rim_px + 2.0, [](float& value, double distance, double) {
        value = std::min(value, static_cast<float>(distance));
      });
    for (int y = box_.y1; y <= box_.y2; ++y) {
      const double py = centre_of_cell(y + band_.top);
      std::vector<double> crossings;
      for (std::size_t i = 0; i < count_; ++i) {
        const std::size_t j = (i + 1) % count_;
        const double ya = body_.points[2 * i + 1], yb = body_.points[2 * j + 1];
        if ((ya <= py) == (yb <= py)) continue;
        const double share = (py - ya) / (yb - ya);
        crossings.push_back(body_.points[2 * i] + share * (body_.points[2 * j] - body_.points[2 * i]));
      }
      std::sort(crossings.begin(), crossings.end());
      std::size_t passed = 0;
      for (int x = box_.x1; x <= box_.x2; ++x) {
        while (passed < crossings.size() && crossings[passed] < centre_of_cell(x)) ++passed;
        if (passed % 2 == 0) at(x, y) = -at(x, y);
      }
    }
  }

  const Body& body_;
  const Band& band_;
  std::size_t count_;
  Reach box_{};
  std::vector<float> values_;
};

float covered(double inside) { return static_cast<float>(std::clamp(0.5 + inside * kFine, 0.0, 1.0)); }

void lay(const Body& body, Band& band) {
  const Distances distances(body, band);
  if (distances.empty()) return;
  const Reach& box = distances.box();
  const auto amplitude = static_cast<float>(body.amplitude), middle = static_cast<float>(body.middle);
  for (int y = box.y1; y <= box.y2; ++y) {
    float* row = band.share.row(y);
    for (int x = box.x1; x <= box.x2; ++x) {
      const double inside = static_cast<double>(distances.at(x, y));
      const float whole = covered(inside);
      const float core = body.rim_px > 0.0 ? covered(inside - body.rim_px) : 0.0F;
      row[x] *= 1.0F - amplitude * (whole - core) - middle * core;
    }
  }
}

std::vector<float> gaussian(double sigma) {
  const int reach = static_cast<int>(std::ceil(5.0 * sigma));
  std::vector<float> kernel(2 * reach + 1);
  double sum = 0.0;
  for (int i = -reach; i <= reach; ++i) sum += std::exp(-0.5 * i * i / (sigma * sigma));
  for (int i = -reach; i <= reach; ++i)
    kernel[i + reach] = static_cast<float>(std::exp(-0.5 * i * i / (sigma * sigma)) / sum);
  return kernel;
}

/// Blurs along rows; beyond the ends there is nothing (share 1).
void blur_rows(Plane& plane, const std::vector<float>& kernel) {
  const int reach = static_cast<int>(kernel.size() / 2);
  std::vector<float> padded(plane.width + 2 * reach);
  for (int y = 0; y < plane.height; ++y) {
    float* row = plane.row(y);
    std::fill(padded.begin(), padded.begin() + reach, row[0]);
    std::copy(row, row + plane.width, padded.begin() + reach);
    std::fill(padded.end() - reach, padded.end(), row[plane.width - 1]);
    std::fill(row, row + plane.width, 0.0F);
    for (std::size_t k = 0; k < kernel.size(); ++k)
      for (int x = 0; x < plane.width; ++x) row[x] += kernel[k] * padded[x + k];
  }
}

/// Blurs down columns and averages over the pixels, for the rows of pixels [first, last).
void average(const Band& band, const std::vector<float>& kernel, int first, int last, Plane& light) {
  const int reach = static_cast<int>(kernel.size() / 2);
  std::vector<float> sum(band.share.width);
  for (int y = first; y < last; ++y) {
    std::fill(sum.begin(), sum.end(), 0.0F);
    for (int cell = y * kFine; cell < (y + 1) * kFine; ++cell)
      for (int k = -reach; k <= reach; ++k) {
        const float* row = band.share.row(cell + k - band.top);
        const float weight = kernel[k + reach] / static_cast<float>(kFine * kFine);
        for (int x = 0; x < band.share.width; ++x) sum[x] += weight * row[x];
      }
    float* out = light.row(y);
    for (int x = 0; x < light.width; ++x) out[x] *= sum[3 * x] + sum[3 * x + 1] + sum[3 * x + 2];
  }
}

}  // namespace

double width_at(const Body& body, double along, double length) {
  const double share = length > 0.0 ? along / length - 0.5 : 0.0;
  const double wave = std::sin(2.0 * std::numbers::pi * along / body.scales_period_px);
  return body.width_px * (1.0 + body.taper * share + body.scales * wave);
}

void draw_bodies(const Scene& scene, Plane& light) {
  static_assert(kFine == 3);
  if (scene.bodies.empty()) return;
  const std::vector<float> kernel = gaussian(scene.optics.gaussian_px * kFine);
  const int reach = static_cast<int>(kernel.size() / 2);
  // Bodies go on beyond the frame, and so does their blur: the band is wider than the picture is not needed along
  // rows, where the outermost cell is repeated; a body cut by the frame goes on there much the same.
  for (int first = 0; first < light.height; first += kBandRows) {
    const int last = std::min(light.height, first + kBandRows);
    Band band{Plane(light.width * kFine, (last - first) * kFine + 2 * reach, 1.0F), first * kFine - reach};
    for (const Body& body : scene.bodies) lay(body, band);
    blur_rows(band.share, kernel);
    average(band, kernel, first, last, light);
  }
}

}  // namespace micrograph
