// The whole way with the installed library: lines 20 pixels apart in a picture of our own, read and calibrated.
#include <scale/calibration.h>

#include <cmath>
#include <cstdint>
#include <cstdio>
#include <vector>

namespace {

constexpr int kWidth = 640;
constexpr int kHeight = 160;
constexpr double kPitch = 20.0;
constexpr double kTwoPi = 2 * scale::kPi;

// Dark lines of smooth profile on bright ground.
std::vector<std::uint8_t> stripes() {
  std::vector<std::uint8_t> samples;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double dark = std::exp(4.0 * (std::cos(kTwoPi * (x - 7.3) / kPitch) - 1.0));
      samples.push_back(static_cast<std::uint8_t>(std::lround(200.0 - 120.0 * dark)));
    }
  return samples;
}

}  // namespace

int main() {
  const std::vector<std::uint8_t> samples = stripes();
  scale::ImageView image;
  image.data = samples.data();
  image.width = kWidth;
  image.height = kHeight;
  image.row_bytes = kWidth;

  const scale::Reading reading = scale::find_rulings(image);
  if (reading.failure) {
    std::printf("refused: %s\n", reading.failure->message.c_str());
    return 1;
  }
  const scale::Calibration calibration = scale::calibrate(reading, {scale::Micrometres{10.0}, std::nullopt});
  const double expected = 10.0 / kPitch;
  std::printf("%.6f um per pixel, expected %.6f\n", calibration.um_per_pixel.value, expected);
  return std::abs(calibration.um_per_pixel.value / expected - 1.0) < 1e-4 ? 0 : 1;
}
