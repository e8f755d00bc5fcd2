// Pictures painted sample by sample in this file, which shares nothing with the renderer of micrographs: lines whose
// edges are ragged, light in clouds, a grain in the ground, a field with a bright border, dirt.
#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <random>

#include <scale/ruling.h>

namespace {

constexpr int kSub = 2;             // samples a pixel, each way
constexpr double kHaloReach = 6.0;  // pixels

struct Painting {
  double pitch = 40.0, width_share = 0.2, angle = 0.0;  // pixels; of the pitch; radians
  int count = 40;
  double length = 120.0;  // pixels, of a line
  double ragged = 0.0;    // of the line's width, standard deviation of an edge
  double clouds = 0.0;    // of the light
  double grain = 0.0;     // of the light, drawn out along the columns
  double halo = 0.0;      // of the contrast: how bright the surroundings of a line are, as in a phase picture
  double contrast = 0.6;  // of the light
  double field = 0.0;     // of the height: radius of a round field, 0 for none
  int specks = 0;
  double blur = 0.8;  // pixels
  bool base_line = true;
};

class Painter {
 public:
  Painter(const Painting& what, unsigned seed, int width, int height)
      : what_(what), random_(seed), width_(width), height_(height) {}

  cv::Mat paint() {
    cv::Mat ink(kSub * height_, kSub * width_, CV_32F);
    const cv::Mat left = smooth(ink.size(), 5.0 * kSub), right = smooth(ink.size(), 5.0 * kSub);
    for (int y = 0; y < ink.rows; ++y)
      for (int x = 0; x < ink.cols; ++x)
        ink.at<float>(y, x) = static_cast<float>(ink_at((x + 0.5) / kSub - 0.5, (y + 0.5) / kSub - 0.5,
                                                        static_cast<double>(left.at<float>(y, x)),
                                                        static_cast<double>(right.at<float>(y, x))));
    for (int k = 0; k < what_.specks; ++k)
      cv::circle(ink, {uniform(0, ink.cols), uniform(0, ink.rows)}, uniform(2, 16 * kSub), cv::Scalar(0.9), -1);
    if (what_.halo > 0.0) {
      cv::Mat around;
      cv::GaussianBlur(ink, around, {}, kHaloReach * kSub);
      ink -= what_.halo * around;
    }
    cv::GaussianBlur(ink, ink, {}, what_.blur * kSub);
    cv::Mat drawn;
    cv::resize(ink, drawn, {width_, height_}, 0, 0, cv::INTER_AREA);
    return exposed(drawn);
  }

 private:
  int uniform(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }

  // Unit noise, smooth over `size` pixels.
  cv::Mat smooth(cv::Size of, double size) {
    cv::Mat coarse(static_cast<int>(of.height / size) + 3, static_cast<int>(of.width / size) + 3, CV_32F), fine;
    std::normal_distribution<float> normal;
    for (auto it = coarse.begin<float>(); it != coarse.end<float>(); ++it) *it = normal(random_);
    cv::resize(coarse, fine, of, 0, 0, cv::INTER_CUBIC);
    return fine;
  }

  double ink_at(double x, double y, double left, double right) const {
    const double c = std::cos(what_.angle), s = std::sin(what_.angle);
    const double dx = x - 0.5 * width_, dy = y - 0.5 * height_;
    const double u = (dx * c + dy * s) / what_.pitch + 0.5 * (what_.count - 1), v = dy * c - dx * s;
    const double k = std::round(u), off = (u - k) * what_.pitch;
    const double half = 0.5 * what_.width_share * what_.pitch;
    const double edge = half * (1.0 + 2.0 * what_.ragged * (off < 0.0 ? left : right));
    const auto inside = [](double distance) { return std::clamp(0.5 - distance * kSub, 0.0, 1.0); };
    const double line = k >= 0.0 && k < what_.count
                            ? inside(std::abs(off) - edge) * inside(-v) *
                                  inside(v - what_.length * (std::fmod(k, 5.0) == 0.0 ? 1.4 : 1.0))
                            : 0.0;
    const double base = what_.base_line && u > 0.0 && u < what_.count - 1.0 ? inside(std::abs(v) - half) : 0.0;
    return std::max(line, base);
  }

  cv::Mat exposed(const cv::Mat& ink) {
    const cv::Mat clouds = smooth(ink.size(), 90.0);
    cv::Mat grain = smooth(ink.size(), 1.0);
    if (what_.grain > 0.0) cv::GaussianBlur(grain, grain, {}, 0.7, 30.0);
    cv::Mat picture(ink.size(), CV_8U);
    std::normal_distribution<double> noise(0.0, 1.5);
    for (int y = 0; y < ink.rows; ++y)
      for (int x = 0; x < ink.cols; ++x) {
        double light = 1.0 - what_.contrast * static_cast<double>(ink.at<float>(y, x));
        light *= 1.0 + what_.clouds * static_cast<double>(clouds.at<float>(y, x));
        light *= 1.0 + 5.0 * what_.grain * static_cast<double>(grain.at<float>(y, x));
        if (what_.field > 0.0)
          light *= std::clamp(what_.field * height_ - std::hypot(x - 0.5 * width_, y - 0.5 * height_), 0.03, 1.0);
        picture.at<std::uint8_t>(y, x) = cv::saturate_cast<std::uint8_t>(170.0 * light + noise(random_));
      }
    return picture;
  }

  Painting what_;
  std::mt19937 random_;
  int width_, height_;
};

scale::Reading read(const Painting& painting, unsigned seed) {
  const cv::Mat picture = Painter(painting, seed, 900, 700).paint();
  return scale::find_rulings({picture.data, picture.cols, picture.rows, static_cast<std::ptrdiff_t>(picture.step),
                              scale::SampleType::u8, 255.0});
}

// Reads it with several seeds: right within 1e-3, or four standard uncertainties, in all of them.
void check_read(const Painting& painting) {
  for (unsigned seed = 1; seed <= 4; ++seed) {
    CAPTURE(seed);
    const scale::Reading reading = read(painting, seed);
    REQUIRE_MESSAGE(!reading.failure, reading.failure->message);
    const scale::Ruling& ruling = reading.rulings.front();
    CHECK(std::abs(ruling.pitch_px / painting.pitch - 1.0) <
          std::max(1e-3, 4.0 * ruling.pitch_uncertainty_px / ruling.pitch_px));
  }
}

}  // namespace

TEST_CASE("lines with ragged edges are read, along the pixels and across them") {
  for (const double angle : {0.0, 0.021, 0.6}) {
    CAPTURE(angle);
    check_read({.pitch = 90.0, .angle = angle, .count = 9, .ragged = 0.09});
  }
}

TEST_CASE("light in clouds is not taken for a pattern between the lines") {
  check_read({.angle = -0.3, .clouds = 0.12, .contrast = 0.3});
}

TEST_CASE("faint lines are found beside the border of the field and specks") {
  check_read({.pitch = 16.0,
              .width_share = 0.1,
              .angle = 0.46,
              .count = 61,
              .contrast = 0.4,
              .field = 0.46,
              .specks = 12,
              .blur = 2.2});
}

TEST_CASE("a small scale in clouded light is found") {
  check_read({.pitch = 5.2,
              .width_share = 0.3,
              .angle = 0.02,
              .count = 21,
              .length = 40.0,
              .clouds = 0.15,
              .base_line = false});
}

TEST_CASE("lines on brushed metal are read") { check_read({.pitch = 45.0, .angle = -0.2, .count = 12, .grain = 0.03}); }

TEST_CASE("many thin ragged lines are read") {
  check_read({.pitch = 18.0, .width_share = 0.12, .angle = 0.09, .count = 45, .ragged = 0.25, .blur = 0.6});
}

TEST_CASE("the halo between dense lines of a phase picture is no ground, and what lies beyond them no band") {
  check_read({.pitch = 12.0, .width_share = 0.25, .angle = 0.08, .count = 51, .halo = 1.2, .contrast = 0.3});
}

TEST_CASE("lines broader than their spaces are read as the spaces' negative") {
  check_read({.pitch = 22.0,
              .width_share = 0.62,
              .angle = 0.22,
              .count = 31,
              .length = 70.0,
              .blur = 1.8,
              .base_line = false});
}

TEST_CASE("a scale is read though brushing runs almost along its lines") {
  check_read({.pitch = 34.0, .angle = 0.05, .count = 22, .length = 45.0, .grain = 0.06});
}
