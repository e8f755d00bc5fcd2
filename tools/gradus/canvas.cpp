#include "canvas.h"

#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>

namespace gradus::canvas {
namespace {

constexpr int kFont = cv::FONT_HERSHEY_SIMPLEX;
constexpr int kFractionBits = 4;  // OpenCV takes sub-pixel ends as integers of 1/16 pixel
constexpr double kDash = 7.0, kGap = 5.0;

constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kSpelling = {
    {{"µ", "u"}, {"μ", "u"}, {"°", " deg"}, {"±", "+-"}, {"–", "-"}, {"×", "x"}}};

cv::Point fixed_point(cv::Point2d point) {
  const double scale = 1 << kFractionBits;
  return {cvRound(point.x * scale), cvRound(point.y * scale)};
}

}  // namespace

std::string ascii(std::string_view utf8) {
  std::string result;
  while (!utf8.empty()) {
    std::size_t taken = 1;
    std::string_view spelt = utf8.substr(0, 1);
    if (static_cast<unsigned char>(utf8[0]) >= 0x80) {
      spelt = "?";
      while (taken < utf8.size() && (static_cast<unsigned char>(utf8[taken]) & 0xC0U) == 0x80U) ++taken;
      for (const auto& [character, spelling] : kSpelling)
        if (utf8.substr(0, taken) == character) spelt = spelling;
    }
    result += spelt;
    utf8.remove_prefix(taken);
  }
  return result;
}

cv::Size text_extent(const std::string& text, double size) {
  int below = 0;
  return cv::getTextSize(text, kFont, size, 1, &below);
}

void write(cv::Mat& image, const std::string& text, cv::Point at, double size, const cv::Scalar& ink) {
  cv::putText(image, text, at, kFont, size, ink, 1, cv::LINE_AA);
}

void write_rimmed(cv::Mat& image, const std::string& text, cv::Point at, double size) {
  cv::putText(image, text, at, kFont, size, kPaper, 4, cv::LINE_AA);
  cv::putText(image, text, at, kFont, size, kInk, 1, cv::LINE_AA);
}

std::vector<std::string> wrapped(const std::string& text, int width, double size) {
  std::vector<std::string> lines{""};
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    const std::string word = text.substr(start, end - start);
    std::string longer = lines.back().empty() ? word : lines.back() + ' ' + word;
    if (text_extent(longer, size).width > width && !lines.back().empty())
      lines.push_back(word);
    else
      lines.back() = std::move(longer);
    start = end + 1;
  }
  return lines;
}

void line(cv::Mat& image, cv::Point2d from, cv::Point2d to, const cv::Scalar& ink, int thickness) {
  cv::line(image, fixed_point(from), fixed_point(to), ink, thickness, cv::LINE_AA, kFractionBits);
}

void dashed_line(cv::Mat& image, cv::Point2d from, cv::Point2d to, const cv::Scalar& ink, int thickness) {
  const cv::Point2d way = to - from;
  const double length = std::hypot(way.x, way.y);
  for (double start = 0.0; start < length; start += kDash + kGap) {
    const double end = std::min(start + kDash, length);
    line(image, from + way * (start / length), from + way * (end / length), ink, thickness);
  }
}

void rimmed_arrow(cv::Mat& image, cv::Point2d from, cv::Point2d to, const cv::Scalar& ink) {
  const double head = 12.0 / std::max(1.0, std::hypot(to.x - from.x, to.y - from.y));
  for (const auto& [colour, thickness] : {std::pair{kPaper, 6}, std::pair{ink, 2}})
    cv::arrowedLine(image, fixed_point(from), fixed_point(to), colour, thickness, cv::LINE_AA, kFractionBits, head);
}

void dot(cv::Mat& image, cv::Point2d at, double radius, const cv::Scalar& ink) {
  cv::circle(image, fixed_point(at), cvRound(radius * (1 << kFractionBits)), ink, cv::FILLED, cv::LINE_AA,
             kFractionBits);
}

void cross(cv::Mat& image, cv::Point2d at, const cv::Scalar& ink) {
  constexpr double kArm = 4.5;
  line(image, {at.x - kArm, at.y - kArm}, {at.x + kArm, at.y + kArm}, ink, 2);
  line(image, {at.x - kArm, at.y + kArm}, {at.x + kArm, at.y - kArm}, ink, 2);
}

}  // namespace gradus::canvas
