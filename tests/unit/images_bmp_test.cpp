// BMP files against the samples they were made from.
#include <doctest/doctest.h>

#include "support/picture_checks.h"
#include "support/picture_files.h"
#include "support/within.h"

using namespace picture_checks;
using namespace picture_files;
using images::Channel;

TEST_CASE("BMP files of 24 and 32 bits are read bottom-up and top-down") {
  const TempFolder folder;
  const std::string path = folder.path("a.bmp");
  for (const int bits : {24, 32}) {
    for (const bool top_down : {false, true}) {
      for (const int width : {1, 2, 3, 4, 37}) {
        const Shape shape = patterned(width, 23, 3, 255);
        write_bmp_file(path, shape, {.bits = bits, .top_down = top_down});
        CHECK(within(worst_difference(read(path), luminance_of(shape.samples, 3)), 0.0, kRounding));
        CHECK(worst_difference(read(path, Channel::red), channel_of(shape.samples, 3, 0)) == 0.0);
        CHECK(worst_difference(read(path, Channel::blue), channel_of(shape.samples, 3, 2)) == 0.0);
        CHECK(read(path).warnings.empty());
      }
    }
  }
}

TEST_CASE("BMP files of 1, 4 and 8 bits are expanded by their palettes") {
  const TempFolder folder;
  const std::string path = folder.path("a.bmp");
  for (const int bits : {1, 4, 8}) {
    for (const bool top_down : {false, true}) {
      const unsigned top = (1U << bits) - 1U;
      BmpKind kind{.bits = bits, .top_down = top_down};
      for (unsigned i = 0; i <= top; ++i) {
        const auto grey = static_cast<int>(255 - i * 255 / top);
        kind.colours.push_back({grey, grey, grey});
      }
      Shape shape = patterned(37, 23, 1, top);
      write_bmp_file(path, shape, kind);
      for (double& sample : shape.samples) sample = kind.colours[static_cast<std::size_t>(sample)][0];
      const images::Picture picture = read(path);
      CHECK(worst_difference(picture, shape.samples) == 0.0);
      CHECK(warning_codes(picture) == (bits == 1 ? "bilevel" : ""));
      CHECK(picture.facts.resolution[0].x == 2835.0);
    }
  }
}

TEST_CASE("an index beyond a short palette is black, every time") {
  const TempFolder folder;
  Shape shape = patterned(37, 23, 1, 255);
  write_bmp_file(folder.path("a.bmp"), shape, {.bits = 8, .colours = {{7, 7, 7}, {9, 9, 9}}});
  for (double& sample : shape.samples) sample = sample == 0.0 ? 7.0 : sample == 1.0 ? 9.0 : 0.0;
  CHECK(worst_difference(read(folder.path("a.bmp")), shape.samples) == 0.0);
}

TEST_CASE("a BMP larger than one band of rows is whole") {
  const TempFolder folder;
  const Shape shape = patterned(700, 500, 3, 255);
  for (const bool top_down : {false, true}) {
    write_bmp_file(folder.path("a.bmp"), shape, {.bits = 24, .top_down = top_down});
    CHECK(worst_difference(read(folder.path("a.bmp"), Channel::green), channel_of(shape.samples, 3, 1)) == 0.0);
  }
}

TEST_CASE("alpha in a BMP counts only where its header says that there is one") {
  const TempFolder folder;
  const std::string path = folder.path("a.bmp");
  Shape shape = patterned(16, 16, 4, 255);
  write_bmp_file(path, shape, {.bits = 32});
  CHECK(warning_codes(read(path)).empty());
  write_bmp_file(path, shape, {.bits = 32, .alpha_mask = true});
  CHECK(warning_codes(read(path)) == "alpha-ignored");
  CHECK(worst_difference(read(path, Channel::green), channel_of(shape.samples, 4, 1)) == 0.0);
  for (std::size_t i = 3; i < shape.samples.size(); i += 4) shape.samples[i] = 255.0;
  write_bmp_file(path, shape, {.bits = 32, .alpha_mask = true});
  CHECK(warning_codes(read(path)).empty());
}

TEST_CASE("a BMP cut short says after which row") {
  const TempFolder folder;
  const std::string path = folder.path("a.bmp");
  write_bmp_file(path, patterned(40, 30, 3, 255), {.bits = 24});
  const std::string bytes = read_bytes(path);
  write_bytes(path, bytes.substr(0, 54 + 120 * 12 + 50));
  CHECK(error_message(path) == path + ": truncated after row 12 of 30; export it again");
}

TEST_CASE("a compressed BMP is refused with its reason") {
  const TempFolder folder;
  const std::string path = folder.path("a.bmp");
  write_bmp_file(path, patterned(8, 8, 1, 255), {.bits = 8, .colours = {{0, 0, 0}}});
  std::string bytes = read_bytes(path);
  bytes[30] = 1;
  write_bytes(path, bytes);
  CHECK(error_code(path) == "unsupported");
}
