// JPEG files of every kind. At quality 100 all quantisation steps are 1 (ITU-T T.81, annex K scaled to nothing), and
// a square of 8 x 8 equal samples has one coefficient, 8 times its value: such pictures come back exactly.
#include <doctest/doctest.h>

#include "support/picture_checks.h"
#include "support/picture_files.h"
#include "support/within.h"

using namespace picture_checks;
using namespace picture_files;
using images::Channel;

namespace {

Shape squares(int channels) { return {77, 53, channels, square_pattern(77, 53, channels)}; }

// RGB to YCbCr and back rounds twice; half a step each, weighted by at most 1.772 (ITU-T T.871).
constexpr double kColourRounding = 2.0;

}  // namespace

TEST_CASE("a grey JPEG keeps every sample, baseline, progressive or arithmetic") {
  const TempFolder folder;
  for (const bool progressive : {false, true}) {
    for (const bool arithmetic : {false, true}) {
      write_jpeg_file(folder.path("a.jpg"), squares(1), {.progressive = progressive, .arithmetic = arithmetic});
      const images::Picture picture = read(folder.path("a.jpg"));
      CHECK(worst_difference(picture, squares(1).samples) == 0.0);
      CHECK(picture.warnings.empty());
      CHECK(picture.facts.format == "JPEG");
      CHECK(picture.facts.colour_model == "grey");
    }
  }
}

TEST_CASE("a colour JPEG gives its luminance or the colour asked for") {
  const TempFolder folder;
  const Shape shape = squares(3);
  for (const bool stored_as_rgb : {false, true}) {
    for (const bool progressive : {false, true}) {
      const std::string path = folder.path("a.jpg");
      write_jpeg_file(path, shape, {.progressive = progressive, .stored_as_rgb = stored_as_rgb});
      CHECK(within(worst_difference(read(path), luminance_of(shape.samples, 3)), 0.0, kRounding));
      for (const int i : {0, 1, 2}) {
        constexpr Channel kChannels[] = {Channel::red, Channel::green, Channel::blue};
        const images::Picture picture = read(path, kChannels[i]);
        CHECK(within(worst_difference(picture, channel_of(shape.samples, 3, i)), 0.0, kColourRounding));
      }
      CHECK(read(path).facts.colour_model == (stored_as_rgb ? "rgb" : "ycbcr"));
    }
  }
}

TEST_CASE("the luminance of a JPEG with subsampled colours is untouched by them") {
  const TempFolder folder;
  const Shape shape = squares(3);
  write_jpeg_file(folder.path("a.jpg"), shape, {.subsampled = true});
  CHECK(within(worst_difference(read(folder.path("a.jpg")), luminance_of(shape.samples, 3)), 0.0, kRounding));
}

TEST_CASE("a JPEG in printing inks is refused with its reason") {
  const TempFolder folder;
  write_jpeg_file(folder.path("a.jpg"), squares(4));
  CHECK(error_code(folder.path("a.jpg")) == "unsupported");
  CHECK(error_message(folder.path("a.jpg")).find("CMYK") != std::string::npos);
}

TEST_CASE("Exif and JFIF facts of a JPEG are recorded, and its orientation is not applied") {
  const TempFolder folder;
  write_jpeg_file(folder.path("a.jpg"), squares(1),
                  {.dots_per_inch = 300, .exif = exif_block(8, "Loom & Lens", "Fibre 2")});
  const images::Picture picture = read(folder.path("a.jpg"));
  CHECK(picture.width == 77);
  CHECK(worst_difference(picture, squares(1).samples) == 0.0);
  CHECK(warning_codes(picture) == "orientation-tag");
  CHECK(picture.facts.orientation == 8);
  CHECK(picture.facts.model == "Fibre 2");
  REQUIRE(picture.facts.resolution.size() == 2);
  CHECK(picture.facts.resolution[0].source == "JFIF");
  CHECK(picture.facts.resolution[0].x == 300.0);
  CHECK(picture.facts.resolution[0].unit == "per inch");
  write_jpeg_file(folder.path("a.jpg"), squares(1), {.exif = exif_block(1, "Loom & Lens", "Fibre 2")});
  CHECK(warning_codes(read(folder.path("a.jpg"))).empty());
}

TEST_CASE("the quality a JPEG was written with is found again") {
  const TempFolder folder;
  for (const int quality : {1, 20, 50, 75, 90, 97, 100}) {
    write_jpeg_file(folder.path("a.jpg"), squares(3), {.quality = quality});
    CHECK(read(folder.path("a.jpg")).facts.jpeg_quality == quality);
  }
}

TEST_CASE("half a JPEG is never taken for whole, and says after which row it ends") {
  const TempFolder folder;
  const std::string path = folder.path("a.jpg");
  for (const bool progressive : {false, true}) {
    write_jpeg_file(path, patterned(200, 320, 1, 255), {.progressive = progressive});
    const std::string bytes = read_bytes(path);
    write_bytes(path, bytes.substr(0, bytes.size() / 2));
    CHECK(error_code(path) == "truncated");
    if (progressive) continue;  // its rows come together, at the end
    const auto [row, rows] = truncated_after(path);
    CHECK(rows == 320);
    CHECK(within(row, 160.0, 16.0));  // noise: rows of equal size, and two rows of blocks for the decoder's buffer
  }
}

TEST_CASE("a JPEG that lost only its end marker is not whole") {
  const TempFolder folder;
  write_jpeg_file(folder.path("a.jpg"), squares(1));
  const std::string bytes = read_bytes(folder.path("a.jpg"));
  write_bytes(folder.path("a.jpg"), bytes.substr(0, bytes.size() - 2));
  CHECK(error_code(folder.path("a.jpg")) == "truncated");
}

TEST_CASE("a JPEG with its middle missing is damaged") {
  const TempFolder folder;
  const std::string path = folder.path("a.jpg");
  write_jpeg_file(path, patterned(200, 320, 1, 255));
  const std::string bytes = read_bytes(path);
  write_bytes(path, bytes.substr(0, bytes.size() / 2) + bytes.substr(bytes.size() - 2));
  CHECK(error_code(path) == "corrupt");
}
