// TIFF files by depth, compression and layout against the samples they were made from.
#include <doctest/doctest.h>
#include <tiffio.h>

#include "support/picture_checks.h"
#include "support/picture_files.h"
#include "support/within.h"

using namespace picture_checks;
using namespace picture_files;
using images::Channel;

namespace {

// JPEG inside TIFF, colour: RGB to YCbCr and back (see images_jpeg_test.cpp).
constexpr double kColourRounding = 2.0;

// Strips that end within the picture, tiles that stick out of it, planes, BigTIFF, the other byte order.
std::vector<TiffKind> layouts() {
  return {{},
          {.rows_per_strip = 5},
          {.tile_width = 16, .tile_height = 32},
          {.separate = true, .rows_per_strip = 7},
          {.separate = true, .tile_width = 32, .tile_height = 16},
          {.rows_per_strip = 4, .mode = "w8"},
          {.rows_per_strip = 4, .mode = "wb"}};
}

}  // namespace

TEST_CASE("grey TIFF files keep every sample in every depth, compression and layout") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  for (TiffKind kind : layouts()) {
    for (const int bits : {8, 12, 16}) {
      for (const int compression :
           {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS}) {
        kind.bits = bits;
        kind.compression = compression;
        const Shape shape = patterned(37, 43, 1, (1U << bits) - 1U);
        write_tiff_file(path, shape, kind);
        CAPTURE(bits);
        CAPTURE(compression);
        const images::Picture picture = read(path);
        CHECK(worst_difference(picture, shape.samples) == 0.0);
        CHECK(picture.white == (1U << bits) - 1U);
        CHECK(picture.warnings.empty());
        CHECK(picture.facts.format == (kind.mode == "w8" ? "BigTIFF" : "TIFF"));
      }
    }
  }
}

TEST_CASE("colour TIFF files give rounded luminance or the colour asked for in every layout") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  for (TiffKind kind : layouts()) {
    for (const int bits : {8, 16}) {
      kind.bits = bits;
      kind.compression = COMPRESSION_LZW;
      const Shape shape = patterned(37, 43, 3, (1U << bits) - 1U);
      write_tiff_file(path, shape, kind);
      CHECK(within(worst_difference(read(path), luminance_of(shape.samples, 3)), 0.0, kRounding));
      CHECK(worst_difference(read(path, Channel::red), channel_of(shape.samples, 3, 0)) == 0.0);
      CHECK(worst_difference(read(path, Channel::green), channel_of(shape.samples, 3, 1)) == 0.0);
      CHECK(worst_difference(read(path, Channel::blue), channel_of(shape.samples, 3, 2)) == 0.0);
    }
  }
}

TEST_CASE("grey TIFF files of 1, 2 and 4 bits spread over 0 to 255, and WhiteIsZero turns them round") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  for (const int bits : {1, 2, 4}) {
    for (const int photometric : {PHOTOMETRIC_MINISBLACK, PHOTOMETRIC_MINISWHITE}) {
      const unsigned top = (1U << bits) - 1U;
      Shape shape = patterned(37, 43, 1, top);
      write_tiff_file(path, shape, {.bits = bits, .photometric = photometric});
      for (double& sample : shape.samples) {
        sample *= 255.0 / top;
        if (photometric == PHOTOMETRIC_MINISWHITE) sample = 255.0 - sample;
      }
      const images::Picture picture = read(path);
      CHECK(worst_difference(picture, shape.samples) == 0.0);
      CHECK(warning_codes(picture) == (bits == 1 ? "bilevel" : ""));
    }
  }
}

TEST_CASE("WhiteIsZero is turned round in 8, 12 and 16 bits") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  for (const int bits : {8, 12, 16}) {
    const unsigned top = (1U << bits) - 1U;
    Shape shape = patterned(37, 43, 1, top);
    write_tiff_file(path, shape, {.bits = bits, .photometric = PHOTOMETRIC_MINISWHITE});
    for (double& sample : shape.samples) sample = top - sample;
    const images::Picture picture = read(path);
    CHECK(worst_difference(picture, shape.samples) == 0.0);
    CHECK(picture.white == top);
  }
}

TEST_CASE("black and white fax compressions are read") {
  const TempFolder folder;
  for (const int compression : {COMPRESSION_CCITTFAX3, COMPRESSION_CCITTFAX4}) {
    Shape shape = patterned(37, 43, 1, 1);
    write_tiff_file(folder.path("a.tif"), shape,
                    {.bits = 1, .photometric = PHOTOMETRIC_MINISWHITE, .compression = compression});
    for (double& sample : shape.samples) sample = 255.0 - 255.0 * sample;
    CHECK(worst_difference(read(folder.path("a.tif")), shape.samples) == 0.0);
  }
}

TEST_CASE("float TIFF files of 32 and 64 bits keep every sample, also negative ones") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  for (const int bits : {32, 64}) {
    Shape shape = patterned(37, 43, 1, 4095);
    for (double& sample : shape.samples) sample = sample / 4096.0 - 0.25;  // exact in 32 bits
    for (const bool tiled : {false, true}) {
      write_tiff_file(
          path, shape,
          {.bits = bits, .sample_format = SAMPLEFORMAT_IEEEFP, .tile_width = tiled ? 16 : 0, .tile_height = 16});
      const images::Picture picture = read(path);
      CHECK(picture.type == scale::SampleType::f32);
      CHECK(worst_difference(picture, shape.samples) == 0.0);
      CHECK(picture.white == *std::max_element(shape.samples.begin(), shape.samples.end()));
    }
  }
}

TEST_CASE("a float TIFF that holds one NaN or infinity is refused") {
  const TempFolder folder;
  const double infinity = std::numeric_limits<double>::infinity();
  for (const double bad : {std::nan(""), infinity, -infinity, 1e300}) {  // the last is infinite in 32 bits
    for (const int bits : {32, 64}) {
      Shape shape = patterned(9, 9, 1, 255);
      shape.samples[40] = bad;
      write_tiff_file(folder.path("a.tif"), shape, {.bits = bits, .sample_format = SAMPLEFORMAT_IEEEFP});
      CHECK(error_code(folder.path("a.tif")) == "not-finite");
    }
  }
}

TEST_CASE("a palette TIFF is expanded, from maps of 16 bits and from old maps of 8 bits") {
  const TempFolder folder;
  const Shape shape = patterned(37, 43, 1, 15);
  for (const int factor : {257, 256, 1}) {
    std::vector<std::vector<int>> map(3, std::vector<int>(16));
    std::vector<double> colours;
    for (int i = 0; i < 16; ++i) {
      map[0][i] = factor * (i * 13);
      map[1][i] = factor * (255 - i * 7);
      map[2][i] = factor * (i * i);
    }
    for (const double index : shape.samples) {
      for (int c = 0; c < 3; ++c) colours.push_back(map[c][static_cast<std::size_t>(index)] / factor);
    }
    write_tiff_file(folder.path("a.tif"), shape, {.bits = 4, .photometric = PHOTOMETRIC_PALETTE, .colour_map = map});
    const images::Picture picture = read(folder.path("a.tif"));
    CHECK(picture.type == scale::SampleType::u8);
    CHECK(within(worst_difference(picture, luminance_of(colours, 3)), 0.0, kRounding));
    CHECK(worst_difference(read(folder.path("a.tif"), Channel::green), channel_of(colours, 3, 1)) == 0.0);
    CHECK(picture.facts.colour_model == "palette");
  }
}

TEST_CASE("a palette with colours of 16 bits keeps them") {
  const TempFolder folder;
  const Shape shape = patterned(37, 43, 1, 3);
  const std::vector<std::vector<int>> map{{1, 1000, 30000, 65535}, {2, 1001, 30001, 65535}, {3, 1002, 30002, 65535}};
  std::vector<double> red;
  for (const double index : shape.samples) red.push_back(map[0][static_cast<std::size_t>(index)]);
  write_tiff_file(folder.path("a.tif"), shape, {.bits = 2, .photometric = PHOTOMETRIC_PALETTE, .colour_map = map});
  const images::Picture picture = read(folder.path("a.tif"), Channel::red);
  CHECK(picture.type == scale::SampleType::u16);
  CHECK(worst_difference(picture, red) == 0.0);
}

TEST_CASE("JPEG inside TIFF is read, grey and in colours") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  const Shape grey{80, 48, 1, square_pattern(80, 48, 1)};
  write_tiff_file(path, grey, {.compression = COMPRESSION_JPEG, .rows_per_strip = 16});
  CHECK(worst_difference(read(path), grey.samples) == 0.0);
  const Shape colour{80, 48, 3, square_pattern(80, 48, 3)};
  for (const int tile : {0, 16}) {
    write_tiff_file(path, colour,
                    {.photometric = PHOTOMETRIC_YCBCR,
                     .compression = COMPRESSION_JPEG,
                     .rows_per_strip = 16,
                     .tile_width = tile,
                     .tile_height = tile});
    CHECK(within(worst_difference(read(path), luminance_of(colour.samples, 3)), 0.0, kColourRounding));
    CHECK(within(worst_difference(read(path, Channel::blue), channel_of(colour.samples, 3, 2)), 0.0, kColourRounding));
    CHECK(read(path).facts.colour_model == "ycbcr");
  }
}

TEST_CASE("YCbCr without JPEG is read upright, whatever the orientation tag says") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  Shape shape = patterned(37, 43, 3, 255);
  for (std::size_t i = 0; i < shape.samples.size(); ++i) {
    if (i % 3 != 0) shape.samples[i] = 128.0;  // no colour: red, green, blue and luminance are Y
  }
  for (const int orientation : {1, 3, 6}) {
    for (const int tile : {0, 16}) {
      write_tiff_file(path, shape,
                      {.photometric = PHOTOMETRIC_YCBCR,
                       .compression = COMPRESSION_LZW,
                       .rows_per_strip = 8,
                       .tile_width = tile,
                       .tile_height = tile,
                       .orientation = orientation});
      CHECK(worst_difference(read(path), channel_of(shape.samples, 3, 0)) == 0.0);
      CHECK(worst_difference(read(path, Channel::red), channel_of(shape.samples, 3, 0)) == 0.0);
    }
  }
}

TEST_CASE("alpha in a TIFF is ignored and warned of when any pixel is not opaque") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  for (const bool separate : {false, true}) {
    for (const int channels : {2, 4}) {
      for (const int bits : {8, 16}) {
        const double top = (1U << bits) - 1U;
        TiffKind kind{.bits = bits, .separate = separate, .extra_samples = {EXTRASAMPLE_UNASSALPHA}};
        kind.photometric = channels == 2 ? PHOTOMETRIC_MINISBLACK : PHOTOMETRIC_RGB;
        Shape shape = patterned(17, 19, channels, static_cast<unsigned>(top));
        for (std::size_t i = channels - 1; i < shape.samples.size(); i += channels) shape.samples[i] = top;
        write_tiff_file(path, shape, kind);
        CHECK(warning_codes(read(path)).empty());
        shape.samples.back() = 0.0;
        write_tiff_file(path, shape, kind);
        CHECK(warning_codes(read(path)) == "alpha-ignored");
        CHECK(worst_difference(read(path, Channel::red), channel_of(shape.samples, channels, 0)) == 0.0);
      }
    }
  }
}

TEST_CASE("channels without a meaning are left out and counted") {
  const TempFolder folder;
  const Shape shape = patterned(17, 19, 5, 255);
  write_tiff_file(
      folder.path("a.tif"), shape,
      {.photometric = PHOTOMETRIC_RGB, .extra_samples = {EXTRASAMPLE_UNSPECIFIED, EXTRASAMPLE_UNSPECIFIED}});
  const images::Picture picture = read(folder.path("a.tif"));
  CHECK(within(worst_difference(picture, luminance_of(shape.samples, 5)), 0.0, kRounding));
  CHECK(warning_codes(picture) == "extra-channels");
}

TEST_CASE("further pages are warned of with their number, and the first is read") {
  const TempFolder folder;
  const Shape shape = patterned(17, 19, 1, 255);
  write_tiff_file(folder.path("a.tif"), shape, {.pages = 3});
  const images::Picture picture = read(folder.path("a.tif"));
  CHECK(warning_codes(picture) == "further-pages");
  CHECK(picture.warnings[0].message.find("3 pages") != std::string::npos);
  CHECK(picture.facts.pages == 3);
  CHECK(worst_difference(picture, shape.samples) == 0.0);
}

TEST_CASE("the tags of a TIFF are recorded, and its orientation is not applied") {
  const TempFolder folder;
  const Shape shape = patterned(12, 7, 1, 255);
  for (const int orientation : {2, 3, 5, 6, 8}) {
    write_tiff_file(folder.path("a.tif"), shape,
                    {.orientation = orientation,
                     .x_resolution = 28985.5,
                     .y_resolution = 14492.75,
                     .make = "Loom & Lens",
                     .model = "Fibre 3"});
    const images::Picture picture = read(folder.path("a.tif"));
    CHECK(picture.width == 12);
    CHECK(worst_difference(picture, shape.samples) == 0.0);
    CHECK(warning_codes(picture) == "orientation-tag");
    CHECK(picture.facts.orientation == orientation);
    CHECK(picture.facts.make == "Loom & Lens");
    CHECK(picture.facts.model == "Fibre 3");
    REQUIRE(picture.facts.resolution.size() == 1);
    CHECK(within(picture.facts.resolution[0].x, 28985.5, 0.01));  // a ratio of whole numbers in the file, float here
    CHECK(within(picture.facts.resolution[0].y, 14492.75, 0.01));
    CHECK(picture.facts.resolution[0].unit == "per centimetre");
  }
}

TEST_CASE("what cannot be read right is refused with its reason") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  const auto refused = [&](const Shape& shape, const TiffKind& kind, const std::string& word) {
    write_tiff_file(path, shape, kind);
    CAPTURE(word);
    CHECK(error_code(path) == "unsupported");
    CHECK(error_message(path).find(word) != std::string::npos);
  };
  const Shape grey = patterned(9, 9, 1, 255);
  refused(grey, {.bits = 16, .sample_format = SAMPLEFORMAT_INT}, "signed");
  refused(grey, {.bits = 32}, "32-bit");
  refused(grey, {.subfile_type = FILETYPE_REDUCEDIMAGE}, "reduced copy");
  refused(grey, {.bits = 32, .photometric = PHOTOMETRIC_MINISWHITE, .sample_format = SAMPLEFORMAT_IEEEFP},
          "WhiteIsZero");
  refused(grey, {.photometric = PHOTOMETRIC_CFA}, "mosaic");
  refused(patterned(9, 9, 4, 255), {.photometric = PHOTOMETRIC_SEPARATED}, "CMYK");
  refused(patterned(9, 9, 3, 255), {.photometric = PHOTOMETRIC_CIELAB}, "colour model");
}

TEST_CASE("a TIFF cut short says after which row, or that its directory is gone") {
  const TempFolder folder;
  const std::string path = folder.path("a.tif");
  const Shape shape = patterned(100, 80, 1, 255);
  write_front_directory_tiff(path, shape, 10);
  CHECK(worst_difference(read(path), shape.samples) == 0.0);
  std::string bytes = read_bytes(path);
  write_bytes(path, bytes.substr(0, bytes.size() - 3500));
  CHECK(error_code(path) == "truncated");
  CHECK(truncated_after(path) == std::pair(40, 80));

  write_tiff_file(path, shape, {.rows_per_strip = 10});
  bytes = read_bytes(path);
  write_bytes(path, bytes.substr(0, bytes.size() / 2));
  CHECK(error_code(path) == "truncated");
  CHECK(error_message(path).find("directory") != std::string::npos);
}
