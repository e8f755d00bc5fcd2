#include "specimen/ground.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/area_means.h"
#include "image/frame.h"

namespace scale {
namespace {

constexpr int kMostCells = 100;        // along the longer side: what is smooth needs no more
constexpr double kTukey = 4.685;       // 95 % efficient for normal errors
constexpr double kSmoothShare = 0.06;  // of the longer side: finer unevenness cannot be told from wide bodies

// Middle of the shortest interval that holds half of the values, of that again half, and so on: their densest place.
double half_sample_mode(std::vector<float> values) {
  std::sort(values.begin(), values.end());
  std::size_t first = 0, count = values.size();
  while (count > 3) {
    const std::size_t half = (count + 1) / 2;
    std::size_t best = first;
    for (std::size_t i = first; i + half <= first + count; ++i)
      if (values[i + half - 1] - values[i] < values[best + half - 1] - values[best]) best = i;
    first = best, count = half;
  }
  return static_cast<double>(values[first + count / 2]);
}

// Columns x^i y^j of the cells' places in [-1, 1], in order of their degree: the first 1, 3, 6, 10, 15 make degree 0
// to 4.
Eigen::MatrixXd design_of(cv::Size size) {
  constexpr int kDegree = 4;  // a corner falls off with the fourth power of the distance
  Eigen::MatrixXd design(size.area(), (kDegree + 1) * (kDegree + 2) / 2);
  const auto place = [](int i, int n) { return n > 1 ? 2.0 * i / (n - 1) - 1.0 : 0.0; };
  for (int row = 0; row < size.area(); ++row) {
    const double x = place(row % size.width, size.width), y = place(row / size.width, size.height);
    design.row(row) << 1.0, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y, x * x * x * x,
        x * x * x * y, x * x * y * y, x * y * y * y, y * y * y * y;
  }
  return design;
}

// A size of residuals that a third of the cells stay below, made a standard deviation: bodies may cover the other two.
double third_sigma(const Eigen::VectorXd& residuals) {
  std::vector<double> sizes(residuals.data(), residuals.data() + residuals.size());
  for (double& size : sizes) size = std::abs(size);
  const auto third = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 3);
  std::nth_element(sizes.begin(), third, sizes.end());
  constexpr double kThirdToSigma = 2.32;  // 1 / quantile of |normal| at 1/3
  return std::max(kThirdToSigma * *third, 1e-6);
}

// One robust step: weights by the residuals of `fitted`, a polynomial of this degree through the cells.
Eigen::VectorXd refit(const Eigen::MatrixXd& design, const Eigen::VectorXd& cells, const Eigen::VectorXd& fitted,
                      int degree) {
  const Eigen::VectorXd residuals = cells - fitted;
  const double limit = kTukey * third_sigma(residuals);
  const int count = (degree + 1) * (degree + 2) / 2;
  const auto columns = design.leftCols(count);
  const Eigen::VectorXd weights = residuals.unaryExpr(
      [&](double r) { return std::abs(r) < limit ? std::pow(1.0 - r * r / (limit * limit), 2) : 0.0; });
  Eigen::MatrixXd normal = columns.transpose() * weights.asDiagonal() * columns;
  normal.diagonal().array() += 1e-9 * normal.trace();
  const Eigen::VectorXd right = columns.transpose() * weights.cwiseProduct(cells);
  return columns * normal.ldlt().solve(right);
}

// What is left over the cells that are ground, spread smoothly over the others.
cv::Mat remainder(const cv::Mat& rest, double sigma_of_cells) {
  const cv::Mat clear = cv::abs(rest) < 4.0 * sigma_of_cells;
  cv::Mat inner;
  cv::erode(clear, inner, cv::Mat::ones(3, 3, CV_8U), {-1, -1}, 1, cv::BORDER_REPLICATE);
  cv::Mat weight, weighted;
  inner.convertTo(weight, CV_32F, 1.0 / 255.0);
  weighted = rest.mul(weight);
  const double sigma = std::max(2.0, kSmoothShare * std::max(rest.cols, rest.rows));
  cv::GaussianBlur(weighted, weighted, {}, sigma, sigma, cv::BORDER_REPLICATE);
  cv::GaussianBlur(weight, weight, {}, sigma, sigma, cv::BORDER_REPLICATE);
  return weighted / (weight + 0.05);
}

// Cells beyond the field stop and one more around them; empty when there are none.
cv::Mat beyond_stop(const cv::Mat& cells, double ground) {
  constexpr double kDark = 0.25, kLeastShare = 0.02;  // of the ground; of the frame
  cv::Mat dark = cells < kDark * ground, labels, outside(cells.size(), CV_8U, cv::Scalar(0));
  cv::connectedComponents(dark, labels, 4, CV_32S);
  for (const cv::Point corner : {cv::Point(0, 0), cv::Point(cells.cols - 1, 0), cv::Point(0, cells.rows - 1),
                                 cv::Point(cells.cols - 1, cells.rows - 1)})
    if (const int label = labels.at<int>(corner); label > 0) outside.setTo(255, labels == label);
  if (cv::countNonZero(outside) < kLeastShare * static_cast<double>(cells.total())) return {};
  cv::dilate(outside, outside, cv::Mat::ones(3, 3, CV_8U));
  return outside;
}

}  // namespace

bool Ground::outside(double x, double y) const {
  if (outside_.empty()) return false;
  const cv::Point cell(std::clamp(cvRound((x + 0.5) / cell_ - 0.5), 0, outside_.cols - 1),
                       std::clamp(cvRound((y + 0.5) / cell_ - 0.5), 0, outside_.rows - 1));
  return outside_.at<std::uint8_t>(cell) != 0;
}

cv::Mat Ground::outside(cv::Size size, int reduction) const {
  if (outside_.empty()) return {};
  cv::Mat result(size, CV_8U, cv::Scalar(0));
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      if (outside((x + 0.5) * reduction - 0.5, (y + 0.5) * reduction - 0.5)) result.at<std::uint8_t>(y, x) = 255;
  return result;
}

double Ground::at(double x, double y) const {
  const double cx = std::clamp((x + 0.5) / cell_ - 0.5, 0.0, cells_.cols - 1.0);
  const double cy = std::clamp((y + 0.5) / cell_ - 0.5, 0.0, cells_.rows - 1.0);
  const int ix = std::min(static_cast<int>(cx), std::max(0, cells_.cols - 2));
  const int iy = std::min(static_cast<int>(cy), std::max(0, cells_.rows - 2));
  const double fx = cx - ix, fy = cy - iy;
  const float* upper = cells_.ptr<float>(iy);
  const float* lower = cells_.ptr<float>(std::min(iy + 1, cells_.rows - 1));
  const int jx = std::min(ix + 1, cells_.cols - 1);
  const auto mix = [&](const float* row) {
    return (1.0 - fx) * static_cast<double>(row[ix]) + fx * static_cast<double>(row[jx]);
  };
  return (1.0 - fy) * mix(upper) + fy * mix(lower);
}

cv::Mat Ground::reduced(cv::Size size, int reduction) const {
  // Whole cells only, so that both rasters share their corner and resize keeps the places.
  cv::Mat enlarged;
  const double ratio = cell_ / reduction;
  const cv::Size whole(cvRound(cells_.cols * ratio), cvRound(cells_.rows * ratio));
  cv::resize(cells_, enlarged, whole, 0, 0, cv::INTER_LINEAR);
  cv::Mat result;
  cv::copyMakeBorder(enlarged, result, 0, std::max(0, size.height - whole.height), 0,
                     std::max(0, size.width - whole.width), cv::BORDER_REPLICATE);
  return result(cv::Rect({0, 0}, size));
}

Ground ground_of(const ImageView& image) {
  const int longer = std::max(image.width, image.height);
  const int cell = std::min({std::max(4, (longer + kMostCells - 1) / kMostCells), image.width, image.height});
  cv::Mat cells;
  area_means(as_mat(image), cell).convertTo(cells, CV_32F);
  const std::vector<float> values(cells.begin<float>(), cells.end<float>());
  const Eigen::VectorXd given = Eigen::Map<const Eigen::VectorXf>(values.data(), cells.total()).cast<double>();
  const Eigen::MatrixXd design = design_of(cells.size());
  Eigen::VectorXd fitted = Eigen::VectorXd::Constant(given.size(), half_sample_mode(values));
  for (const int degree : {0, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4}) fitted = refit(design, given, fitted, degree);
  const Eigen::VectorXf smooth = fitted.cast<float>();
  const cv::Mat polynomial(cells.size(), CV_32F, const_cast<float*>(smooth.data()));
  return {polynomial + remainder(cells - polynomial, third_sigma(given - fitted)), static_cast<double>(cell),
          beyond_stop(cells, cv::mean(polynomial)[0])};
}

}  // namespace scale
