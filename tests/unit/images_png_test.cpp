// PNG files of every kind against the samples they were made from.
#include <doctest/doctest.h>

#include "support/picture_checks.h"
#include "support/picture_files.h"
#include "support/within.h"

using namespace picture_checks;
using namespace picture_files;
using images::Channel;

TEST_CASE("grey PNG files of 8 and 16 bits keep every sample, interlaced or not") {
  const TempFolder folder;
  for (const int bits : {8, 16}) {
    for (const bool interlaced : {false, true}) {
      const Shape shape = patterned(37, 23, 1, bits == 8 ? 255 : 65535);
      write_png_file(folder.path("a.png"), shape, {.bits = bits, .interlaced = interlaced});
      const images::Picture picture = read(folder.path("a.png"));
      CHECK(worst_difference(picture, shape.samples) == 0.0);
      CHECK(picture.white == (bits == 8 ? 255.0 : 65535.0));
      CHECK(picture.view().row_bytes == 37 * bits / 8);
      CHECK(picture.warnings.empty());
      CHECK(picture.facts.format == "PNG");
      CHECK(picture.facts.bits_per_sample == bits);
      CHECK(picture.facts.colour_model == "grey");
    }
  }
}

TEST_CASE("grey PNG files of 1, 2 and 4 bits spread over 0 to 255, and black and white alone is warned of") {
  const TempFolder folder;
  for (const int bits : {1, 2, 4}) {
    const unsigned top = (1U << bits) - 1U;
    Shape shape = patterned(37, 23, 1, top);
    write_png_file(folder.path("a.png"), shape, {.bits = bits, .interlaced = bits == 2});
    const images::Picture picture = read(folder.path("a.png"));
    for (double& sample : shape.samples) sample *= 255.0 / top;
    CHECK(worst_difference(picture, shape.samples) == 0.0);
    CHECK(warning_codes(picture) == (bits == 1 ? "bilevel" : ""));
  }
}

TEST_CASE("a colour PNG gives rounded luminance or the colour asked for, interlaced or not") {
  const TempFolder folder;
  for (const int bits : {8, 16}) {
    for (const bool interlaced : {false, true}) {
      const Shape shape = patterned(41, 19, 3, bits == 8 ? 255 : 65535);
      const std::string path = folder.path("a.png");
      write_png_file(path, shape, {.bits = bits, .interlaced = interlaced});
      CHECK(within(worst_difference(read(path), luminance_of(shape.samples, 3)), 0.0, kRounding));
      CHECK(worst_difference(read(path, Channel::red), channel_of(shape.samples, 3, 0)) == 0.0);
      CHECK(worst_difference(read(path, Channel::green), channel_of(shape.samples, 3, 1)) == 0.0);
      CHECK(worst_difference(read(path, Channel::blue), channel_of(shape.samples, 3, 2)) == 0.0);
      CHECK(read(path).facts.channels == 3);
    }
  }
}

TEST_CASE("interlaced PNG files of every small size are whole") {
  const TempFolder folder;
  for (int width = 1; width <= 9; ++width) {
    for (int height = 1; height <= 9; ++height) {
      const Shape shape = patterned(width, height, 3, 255);
      write_png_file(folder.path("a.png"), shape, {.interlaced = true});
      CHECK(worst_difference(read(folder.path("a.png"), Channel::green), channel_of(shape.samples, 3, 1)) == 0.0);
    }
  }
}

TEST_CASE("a palette PNG is expanded to its colours") {
  const TempFolder folder;
  const std::vector<std::vector<int>> colours{{10, 20, 30}, {200, 100, 50}, {0, 255, 0}, {255, 255, 255}};
  for (const int bits : {2, 8}) {
    const Shape shape = patterned(21, 13, 1, 3);
    write_png_file(folder.path("a.png"), shape, {.bits = bits, .palette = true, .colours = colours});
    std::vector<double> expanded;
    for (const double index : shape.samples) {
      for (const int part : colours[static_cast<std::size_t>(index)]) expanded.push_back(part);
    }
    const images::Picture picture = read(folder.path("a.png"));
    CHECK(within(worst_difference(picture, luminance_of(expanded, 3)), 0.0, kRounding));
    CHECK(worst_difference(read(folder.path("a.png"), Channel::blue), channel_of(expanded, 3, 2)) == 0.0);
    CHECK(picture.facts.colour_model == "palette");
    CHECK(picture.warnings.empty());
  }
}

TEST_CASE("alpha is ignored and warned of when any pixel is not opaque") {
  const TempFolder folder;
  const std::string path = folder.path("a.png");
  for (const int bits : {8, 16}) {
    const int top = bits == 8 ? 255 : 65535;
    for (const int channels : {2, 4}) {
      Shape shape = patterned(16, 16, channels, static_cast<unsigned>(top));
      for (std::size_t i = channels - 1; i < shape.samples.size(); i += channels) shape.samples[i] = top;
      write_png_file(path, shape, {.bits = bits});
      CHECK(warning_codes(read(path)).empty());
      shape.samples.back() = top - 1;
      write_png_file(path, shape, {.bits = bits});
      CHECK(warning_codes(read(path)) == "alpha-ignored");
      CHECK(worst_difference(read(path, Channel::red), channel_of(shape.samples, channels, 0)) == 0.0);
    }
  }
}

TEST_CASE("a transparent grey value and a transparent palette entry are warned of as alpha") {
  const TempFolder folder;
  Shape shape = patterned(16, 16, 1, 255);
  write_png_file(folder.path("grey.png"), shape, {.transparent_grey = static_cast<int>(shape.samples[7])});
  CHECK(warning_codes(read(folder.path("grey.png"))) == "alpha-ignored");
  CHECK(worst_difference(read(folder.path("grey.png")), shape.samples) == 0.0);
  shape = patterned(16, 16, 1, 1);
  write_png_file(folder.path("palette.png"), shape,
                 {.palette = true, .colours = {{0, 0, 0}, {9, 9, 9}}, .palette_alpha = {255, 0}});
  CHECK(warning_codes(read(folder.path("palette.png"))) == "alpha-ignored");
}

TEST_CASE("a colour channel asked of a grey PNG is warned of") {
  const TempFolder folder;
  write_png_file(folder.path("a.png"), patterned(5, 5, 1, 255));
  CHECK(warning_codes(read(folder.path("a.png"), Channel::green)) == "channel-ignored");
}

TEST_CASE("the eXIf and pHYs chunks of a PNG are recorded, and its orientation is not applied") {
  const TempFolder folder;
  const Shape shape = patterned(12, 7, 1, 255);
  write_png_file(folder.path("a.png"), shape,
                 {.pixels_per_metre = 2'900'000, .exif = exif_block(6, "Loom & Lens", "Fibre 1")});
  const images::Picture picture = read(folder.path("a.png"));
  CHECK(picture.width == 12);
  CHECK(worst_difference(picture, shape.samples) == 0.0);
  CHECK(warning_codes(picture) == "orientation-tag");
  CHECK(picture.facts.orientation == 6);
  CHECK(picture.facts.make == "Loom & Lens");
  CHECK(picture.facts.model == "Fibre 1");
  REQUIRE(picture.facts.resolution.size() == 2);
  CHECK(picture.facts.resolution[0].source == "PNG pHYs");
  CHECK(picture.facts.resolution[0].x == 2'900'000.0);
  CHECK(picture.facts.resolution[0].unit == "per metre");
  CHECK(picture.facts.resolution[1].source == "Exif");
  CHECK(picture.facts.resolution[1].y == 72.5);
  CHECK(picture.facts.resolution[1].unit == "per inch");
}

TEST_CASE("a PNG cut short says after which row, and one without its end chunk is not whole") {
  const TempFolder folder;
  const std::string path = folder.path("a.png");
  write_png_file(path, patterned(300, 400, 1, 255));
  const std::string bytes = read_bytes(path);
  write_bytes(path, bytes.substr(0, bytes.size() / 2));
  CHECK(error_code(path) == "truncated");
  const auto [row, rows] = truncated_after(path);
  CHECK(rows == 400);
  CHECK(within(row, 200.0, 60.0));  // half the bytes hold about half the rows of noise, less one decoder buffer
  write_bytes(path, bytes.substr(0, bytes.size() - 12));
  CHECK(error_code(path) == "truncated");
}

TEST_CASE("a PNG with a wrong checksum is damaged") {
  const TempFolder folder;
  write_png_file(folder.path("a.png"), patterned(64, 64, 1, 255));
  std::string bytes = read_bytes(folder.path("a.png"));
  bytes[bytes.size() / 2] = static_cast<char>(bytes[bytes.size() / 2] ^ 1);
  write_bytes(folder.path("a.png"), bytes);
  CHECK(error_code(folder.path("a.png")) == "corrupt");
}
