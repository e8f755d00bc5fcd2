// Drawing for the pictures of a result: the Okabe-Ito colours (told apart by colour-blind readers) and the few
// strokes that are needed. A meaning is never carried by colour alone: dashes, crosses and words go with it.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace gradus::canvas {

// Blue, green, red, as OpenCV wants them. From M. Okabe and K. Ito, "Color universal design", 2008.
inline const cv::Scalar kBlue{178, 114, 0}, kSkyBlue{233, 180, 86}, kVermillion{0, 94, 213}, kOrange{0, 159, 230},
    kGreen{115, 158, 0}, kYellow{66, 228, 240};
inline const cv::Scalar kInk{40, 40, 40}, kFaint{205, 205, 205}, kPaper{255, 255, 255};

// The fonts of OpenCV know ASCII only: µ becomes u, ° becomes deg, ± becomes +-, the rest '?'.
std::string ascii(std::string_view utf8);

constexpr double kTextSize = 0.45, kTitleSize = 0.6;  // OpenCV's font scale; capitals 10 and 13 px high

cv::Size text_extent(const std::string& text, double size = kTextSize);

// Left end of the base line at `at`.
void write(cv::Mat& image, const std::string& text, cv::Point at, double size = kTextSize,
           const cv::Scalar& ink = kInk);

// With a paper-coloured rim, to be read over any picture.
void write_rimmed(cv::Mat& image, const std::string& text, cv::Point at, double size = kTextSize);

// Lines of at most `width` pixels, broken at blanks.
std::vector<std::string> wrapped(const std::string& text, int width, double size = kTextSize);

void line(cv::Mat& image, cv::Point2d from, cv::Point2d to, const cv::Scalar& ink, int thickness = 1);
void dashed_line(cv::Mat& image, cv::Point2d from, cv::Point2d to, const cv::Scalar& ink, int thickness = 1);
void rimmed_arrow(cv::Mat& image, cv::Point2d from, cv::Point2d to, const cv::Scalar& ink);
void dot(cv::Mat& image, cv::Point2d at, double radius, const cv::Scalar& ink);
void cross(cv::Mat& image, cv::Point2d at, const cv::Scalar& ink);

}  // namespace gradus::canvas
