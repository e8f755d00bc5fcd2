#include <algorithm>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "numeric/robust.h"
#include "ruling/comb.h"
#include "ruling/comb_pixels.h"
#include "ruling/divide_out.h"

namespace scale {
namespace {

constexpr int kBlock = 40;            // pixels: the ground is taken to be even over so much
constexpr double kGroundShare = 0.8;  // of a block's samples, by brightness, that are at most ground
constexpr double kLit = 0.45;         // of the picture's ground: less is the dark round the field
constexpr double kMostDeeper = 1.15;  // of the others' depth: lines of one scale differ by less (judgement)
constexpr double kFaint = 0.02;       // of the profile: less is ground

cv::Mat ground_of(const cv::Mat& grey, bool dark) {
  const int columns = std::max(1, grey.cols / kBlock), rows = std::max(1, grey.rows / kBlock);
  cv::Mat coarse(rows, columns, CV_32F);
  std::vector<double> values;
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < columns; ++c) {
      // Of a block and half of its neighbours, so that lines of a wide pitch leave ground in it.
      const cv::Rect part =
          cv::Rect(c * grey.cols / columns - kBlock / 2, r * grey.rows / rows - kBlock / 2, 2 * kBlock, 2 * kBlock) &
          cv::Rect(0, 0, grey.cols, grey.rows);
      values.clear();
      for (int y = part.y; y < part.y + part.height; y += 2)
        for (int x = part.x; x < part.x + part.width; x += 2) values.push_back(grey.at<float>(y, x));
      coarse.at<float>(r, c) = static_cast<float>(numeric::quantile(values, dark ? kGroundShare : 1.0 - kGroundShare));
    }
  cv::Mat ground;
  cv::resize(coarse, ground, grey.size(), 0.0, 0.0, cv::INTER_LINEAR);
  return ground;
}

}  // namespace

Light light_of(const cv::Mat& picture, bool dark) {
  cv::Mat grey;
  picture.convertTo(grey, CV_32F);
  const cv::Mat ground = ground_of(grey, dark);
  std::vector<float> all(ground.begin<float>(), ground.end<float>());
  const double lit = kLit * numeric::median_in_place(std::span<float>(all));
  Light light{cv::Mat(grey.size(), CV_32F), cv::Mat(grey.size(), CV_32F)};
  for (int y = 0; y < grey.rows; ++y)
    for (int x = 0; x < grey.cols; ++x) {
      const double g = static_cast<double>(ground.at<float>(y, x));
      const bool seen = g > lit && g > 0.0;
      light.share.at<float>(y, x) = seen ? grey.at<float>(y, x) / static_cast<float>(g) : 1.0F;
      light.trust.at<float>(y, x) = seen ? 1.0F : 0.0F;
    }
  return light;
}

Light without(Light light, const Comb& comb) {
  light = {light.share.clone(), light.trust.clone()};
  const double reach = std::min(comb.shape.window, comb.shape.reach - LineShape::step);
  for (const CombLine& line : comb.lines) {
    if (line.seen == Seen::not_there) continue;
    // A line that looks far deeper than the others has another scale's line over it, which is to stay; one far
    // shallower has a bright one. Neither tells its own depth.
    const double deeper = line.seen == Seen::clearly ? line.depth / comb.depth : 1.0;
    const bool alone = deeper <= kMostDeeper && deeper >= 1.0 / kMostDeeper;
    const double depth = comb.depth * (alone ? deeper : 1.0);
    const CombPath path = path_of(comb, line.index, line.seen == Seen::clearly ? line.t - comb.at(line.index) : 0.0);
    visit_line(light.share.size(), path, line.v_low - kBeyondEnds, line.v_high + kBeyondEnds, reach,
               [&](int x, int y, double offset, double) {
                 const double profile = comb.shape.at(offset).value;
                 if (profile < kFaint) return;
                 const double through = 1.0 + depth * profile;
                 float& share = light.share.at<float>(y, x);
                 float& trust = light.trust.at<float>(y, x);
                 if (through < kDarkest) {
                   share = 1.0F, trust = 0.0F;
                   return;
                 }
                 share /= static_cast<float>(through);
                 trust *= static_cast<float>(std::min(1.0, through * through));
               });
  }
  return light;
}

double left_over(const Light& light, const Light& rest, const Comb& comb, double noise) {
  // About the mean: between dense lines the ground itself is not seen, and may lie off 1. What is left counts in the
  // light as it was, so by the square of what the lines let through, which is how its trust was lowered.
  struct Variance {
    double squares = 0.0, sum = 0.0, weight = 0.0;
    void add(double value, double by) { squares += by * value * value, sum += by * value, weight += by; }
    double above(double unavoidable) const {
      return weight > 0.0 ? std::max(0.0, squares - sum * sum / weight - unavoidable) : 0.0;
    }
  } before, after;
  for (const CombLine& line : comb.lines)
    visit_line(light.share.size(), path_of(comb, line.index), comb.v_low, comb.v_high, 0.5 * comb.pitch(),
               [&](int x, int y, double, double) {
                 if (!(rest.trusted(x, y) > 0.0)) return;
                 before.add(light.off(x, y), light.trusted(x, y));
                 after.add(rest.off(x, y), rest.trusted(x, y));
               });
  const double unavoidable = before.weight * noise * noise, whole = before.above(unavoidable);
  return whole > 0.0 ? after.above(unavoidable) / whole : 1.0;
}

}  // namespace scale
