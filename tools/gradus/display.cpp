#include "display.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace gradus {
namespace {

int type_of(scale::SampleType type) {
  return type == scale::SampleType::u8 ? CV_8UC1 : type == scale::SampleType::u16 ? CV_16UC1 : CV_32FC1;
}

double magnification_for(const scale::ImageView& image, int most, int least) {
  const double largest = std::max(image.width, image.height);
  if (largest > most) return most / largest;
  return std::max(1.0, std::floor(least / largest));
}

cv::Mat as_8_bit(const cv::Mat& samples) {
  if (samples.type() == CV_8UC1) return samples;
  double darkest = 0.0, brightest = 0.0;
  cv::minMaxLoc(samples, &darkest, &brightest);
  const double gain = brightest > darkest ? 255.0 / (brightest - darkest) : 0.0;
  cv::Mat result;
  samples.convertTo(result, CV_8U, gain, -darkest * gain);
  return result;
}

}  // namespace

Display display_of(const scale::ImageView& image, int most, int least) {
  const cv::Mat samples(image.height, image.width, type_of(image.type), const_cast<void*>(image.data),
                        static_cast<std::size_t>(image.row_bytes));
  Display display;
  display.magnification = magnification_for(image, most, least);
  const cv::Size size(std::max(1, cvRound(image.width * display.magnification)),
                      std::max(1, cvRound(image.height * display.magnification)));
  cv::Mat resized;
  cv::resize(samples, resized, size, 0, 0, display.magnification < 1.0 ? cv::INTER_AREA : cv::INTER_NEAREST);
  cv::cvtColor(as_8_bit(resized), display.canvas, cv::COLOR_GRAY2BGR);
  return display;
}

}  // namespace gradus
