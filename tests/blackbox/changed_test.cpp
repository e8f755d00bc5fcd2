// Real photographs as another camera, another day or another program would have left them: turned, resized, blurred,
// noisy, coded, dimmed, framed. The scale found must change with the picture and with nothing else; a picture without
// one must stay refused.
#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include <scale/opencv.h>
#include <scale/ruling.h>

#include "blackbox/photographs.h"
#include "images/encode_jpeg.h"
#include "images/read_image.h"
#include "support/picture_files.h"
#include "support/within.h"

namespace {

using namespace photographs;

constexpr double kDivisionUm = 10.0;
// What resampling, coding and noise may add to the pitch, relative: the hand readings are no better.
constexpr double kOfTheChange = 0.002;

cv::Mat mat_of(const scale::ImageView& view) {
  REQUIRE(view.type == scale::SampleType::u8);
  return {view.height, view.width, CV_8U, const_cast<void*>(view.data), static_cast<std::size_t>(view.row_bytes)};
}

struct Change {
  std::string name;
  std::function<cv::Mat(const cv::Mat&)> made;
  double magnified = 1.0;
};

cv::Mat turned(const cv::Mat& picture, double degrees) {
  const cv::Size size = picture.size();
  const double c = std::abs(std::cos(degrees * CV_PI / 180.0)), s = std::abs(std::sin(degrees * CV_PI / 180.0));
  const cv::Size whole(static_cast<int>(size.width * c + size.height * s),
                       static_cast<int>(size.width * s + size.height * c));
  cv::Mat turn = cv::getRotationMatrix2D(
      {0.5F * static_cast<float>(size.width), 0.5F * static_cast<float>(size.height)}, degrees, 1.0);
  turn.at<double>(0, 2) += 0.5 * (whole.width - size.width);
  turn.at<double>(1, 2) += 0.5 * (whole.height - size.height);
  cv::Mat result;
  cv::warpAffine(picture, result, turn, whole, cv::INTER_CUBIC, cv::BORDER_CONSTANT, cv::mean(picture));
  return result;
}

cv::Mat resized(const cv::Mat& picture, double by) {
  cv::Mat result;
  cv::resize(picture, result, {}, by, by, by < 1.0 ? cv::INTER_AREA : cv::INTER_CUBIC);
  return result;
}

cv::Mat blurred(const cv::Mat& picture, double sigma) {
  cv::Mat result;
  cv::GaussianBlur(picture, result, {}, sigma);
  return result;
}

cv::Mat noisy(const cv::Mat& picture, double sigma) {
  cv::Mat noise(picture.size(), CV_16S), result;
  cv::RNG(17).fill(noise, cv::RNG::NORMAL, 0.0, sigma);
  cv::add(picture, noise, result, cv::noArray(), CV_8U);
  return result;
}

cv::Mat coded(const cv::Mat& picture, int quality) {
  cv::Mat colour;
  cv::cvtColor(picture, colour, cv::COLOR_GRAY2BGR);
  const picture_files::TempFolder folder;
  const std::string file = folder.path("coded.jpg");
  picture_files::write_bytes(
      file, images::encode_jpeg({colour.data, colour.cols, colour.rows, static_cast<std::ptrdiff_t>(colour.step), true},
                                quality));
  const auto read = images::read_image(file);
  REQUIRE(read);
  return mat_of(read->view()).clone();
}

cv::Mat with_levels(const cv::Mat& picture, double gain, double offset) {
  cv::Mat result;
  picture.convertTo(result, CV_8U, gain, offset);
  return result;
}

cv::Mat brightened(const cv::Mat& picture) {
  cv::Mat table(1, 256, CV_8U), result;
  for (int i = 0; i < 256; ++i)
    table.at<std::uint8_t>(i) = cv::saturate_cast<std::uint8_t>(255.0 * std::sqrt(i / 255.0));
  cv::LUT(picture, table, result);
  return result;
}

cv::Mat mirrored(const cv::Mat& picture) {
  cv::Mat result;
  cv::flip(picture, result, 1);
  return result;
}

cv::Mat framed(const cv::Mat& picture) {
  cv::Mat result;
  cv::copyMakeBorder(picture, result, 40, 80, 40, 40, cv::BORDER_CONSTANT, cv::Scalar(255));
  return result;
}

std::vector<Change> changes() {
  std::vector<Change> all{{"as it is", [](const cv::Mat& m) { return m; }}};
  for (const int degrees : {3, -17, 45, 90})
    all.push_back({"turned by " + std::to_string(degrees), [=](const cv::Mat& m) { return turned(m, degrees); }});
  all.push_back({"smaller", [](const cv::Mat& m) { return resized(m, 0.8); }, 0.8});
  all.push_back({"larger", [](const cv::Mat& m) { return resized(m, 1.3); }, 1.3});
  all.push_back({"blurred", [](const cv::Mat& m) { return blurred(m, 0.8); }});
  all.push_back({"noisy", [](const cv::Mat& m) { return noisy(m, 8.0); }});
  all.push_back({"coded at quality 80", [](const cv::Mat& m) { return coded(m, 80); }});
  all.push_back({"faint", [](const cv::Mat& m) { return with_levels(m, 0.3, 90.0); }});
  all.push_back({"inverted", [](const cv::Mat& m) { return with_levels(m, -1.0, 255.0); }});
  all.push_back({"brightened", brightened});
  all.push_back({"mirrored", mirrored});
  all.push_back({"in a frame", framed});
  return all;
}

// Of the changes, at least so many must be read right; the others may be refused.
struct Expected {
  const char* file;
  std::size_t least_right;
};
const Expected kExpected[] = {
    {"scale_a.png", 15}, {"scale_b.png", 8}, {"grid_a.png", 15}, {"none_a.png", 0}, {"none_b.png", 0}};

const Photograph& named(const std::string& file) {
  for (const Photograph& photograph : kPhotographs)
    if (photograph.file == file) return photograph;
  throw std::logic_error(file);
}

void check_scale(const scale::Ruling& ruling, const Photograph& photograph, double magnified) {
  REQUIRE_MESSAGE(photograph.um_per_pixel, "found ", ruling.pitch_px, " px where no scale is");
  const Reading read = *photograph.um_per_pixel;
  const double pitch = kDivisionUm / read.value * magnified;
  CHECK(within(
      ruling.pitch_px, pitch,
      pitch * (kReadingCoverage * read.uncertainty / read.value + kOfTheChange) + 3.0 * ruling.pitch_uncertainty_px));
}

}  // namespace

TEST_CASE("changed photographs give the same scale or are refused") {
  const auto where = folder();
  if (!where) return;
  for (const Expected& expected : kExpected) {
    if (!std::filesystem::exists(*where / expected.file)) continue;
    const auto read = images::read_image((*where / expected.file).string());
    REQUIRE(read);
    const cv::Mat picture = mat_of(read->view());
    std::size_t right = 0;
    for (const Change& change : changes()) {
      INFO(expected.file, ' ', change.name);
      const cv::Mat changed = change.made(picture);
      const scale::Reading reading = scale::find_rulings(scale::view_of(changed));
      for (const scale::Ruling& ruling : reading.rulings) check_scale(ruling, named(expected.file), change.magnified);
      right += reading.rulings.empty() ? 0 : 1;
      if (reading.rulings.empty() && expected.least_right > 0)
        std::printf("%s %s: refused, %s\n", expected.file, change.name.c_str(), reading.failure->message.c_str());
    }
    std::printf("%s: %zu of %zu changes read\n", expected.file, right, changes().size());
    CHECK(right >= expected.least_right);
  }
}
