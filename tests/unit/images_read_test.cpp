// What read_image says of paths, types, sizes, and of cameras with fewer than 16 bits.
#include <doctest/doctest.h>
#include <tiffio.h>

#include <filesystem>

#include "support/picture_checks.h"
#include "support/picture_files.h"
#include "support/within.h"

using namespace picture_checks;
using namespace picture_files;

namespace {

// A header that claims width x height, with no pixels behind it.
void claim_png(const std::string& path, int width, int height) {
  write_png_file(path, patterned(4, 4, 1, 255));
  std::string bytes = read_bytes(path);
  for (int i = 0; i < 4; ++i) {
    bytes[16 + i] = static_cast<char>(width >> 8 * (3 - i));
    bytes[20 + i] = static_cast<char>(height >> 8 * (3 - i));
  }
  // The header's checksum (PNG specification, annex D), bit by bit.
  std::uint32_t sum = 0xFFFFFFFFU;
  for (int i = 12; i < 29; ++i) {
    sum ^= static_cast<unsigned char>(bytes[i]);
    for (int bit = 0; bit < 8; ++bit) sum = sum >> 1 ^ (sum % 2 == 1 ? 0xEDB88320U : 0U);
  }
  for (int i = 0; i < 4; ++i) bytes[29 + i] = static_cast<char>(~sum >> 8 * (3 - i));
  write_bytes(path, bytes);
}

void claim_bmp(const std::string& path, int width, int height) {
  write_bmp_file(path, patterned(4, 4, 3, 255), {});
  std::string bytes = read_bytes(path);
  for (int i = 0; i < 4; ++i) {
    bytes[18 + i] = static_cast<char>(width >> 8 * i);
    bytes[22 + i] = static_cast<char>(height >> 8 * i);
  }
  write_bytes(path, bytes);
}

void claim_jpeg(const std::string& path, int width, int height) {
  write_jpeg_file(path, patterned(4, 4, 1, 255));
  std::string bytes = read_bytes(path);
  const std::size_t frame = bytes.find("\xFF\xC0");
  REQUIRE(frame != std::string::npos);
  for (int i = 0; i < 2; ++i) {
    bytes[frame + 5 + i] = static_cast<char>(height >> 8 * (1 - i));
    bytes[frame + 7 + i] = static_cast<char>(width >> 8 * (1 - i));
  }
  write_bytes(path, bytes);
}

void claim_tiff(const std::string& path, int width, int height) {
  write_tiff_file(path, patterned(4, 4, 1, 255));
  std::string bytes = read_bytes(path);
  const auto directory = static_cast<unsigned char>(bytes[4]);
  for (std::size_t place = directory + 2; place + 12 <= bytes.size(); place += 12) {
    const int tag = static_cast<unsigned char>(bytes[place]) | static_cast<unsigned char>(bytes[place + 1]) << 8;
    if (tag != TIFFTAG_IMAGEWIDTH && tag != TIFFTAG_IMAGELENGTH && tag != TIFFTAG_ROWSPERSTRIP) continue;
    const int value = tag == TIFFTAG_IMAGEWIDTH ? width : height;
    for (int i = 0; i < 2; ++i) bytes[place + 8 + i] = static_cast<char>(value >> 8 * i);
  }
  write_bytes(path, bytes);
}

}  // namespace

TEST_CASE("what is not a picture file is refused, each kind by its code, and the message begins with the path") {
  const TempFolder folder;
  const std::string path = folder.path("a.png");
  CHECK(error_code(path) == "missing");
  CHECK(error_message(path).starts_with(path + ": "));
  CHECK(error_code(folder.folder()) == "folder");
  CHECK(error_code("/dev/null") == "unreadable");
  write_bytes(path, "");
  CHECK(error_code(path) == "empty");
  for (const char* bytes : {"x", "notes of the wool room", "%PDF-1.4", "GIF89a\1\1\1\1"}) {
    write_bytes(path, bytes);
    CHECK(error_code(path) == "not-an-image");
  }
}

TEST_CASE("the type of a file is told by its bytes, not by its name") {
  const TempFolder folder;
  write_jpeg_file(folder.path("a.png"), patterned(9, 9, 1, 255));
  write_tiff_file(folder.path("b.jpg"), patterned(9, 9, 1, 255));
  CHECK(read(folder.path("a.png")).facts.format == "JPEG");
  CHECK(read(folder.path("b.jpg")).facts.format == "TIFF");
}

TEST_CASE("a picture of one pixel is read from every type") {
  const TempFolder folder;
  write_png_file(folder.path("a"), {1, 1, 1, {77}});
  write_tiff_file(folder.path("b"), {1, 1, 1, {77}});
  write_jpeg_file(folder.path("c"), {1, 1, 1, {77}});
  write_bmp_file(folder.path("d"), {1, 1, 3, {77, 77, 77}}, {});
  for (const char* name : {"a", "b", "c", "d"}) {
    CHECK(worst_difference(read(folder.path(name)), {77.0}) == 0.0);
    CHECK(read(folder.path(name)).facts.file_bytes == read_bytes(folder.path(name)).size());
  }
}

TEST_CASE("a header that claims a giant picture is refused before memory is taken for it") {
  const TempFolder folder;
  for (const auto claim : {claim_png, claim_bmp, claim_jpeg, claim_tiff}) {
    claim(folder.path("a"), 30000, 30000);
    CHECK(error_code(folder.path("a")) == "too-large");
    claim(folder.path("a"), 10000, 10000);  // within the limits, but not in a few hundred bytes
    const std::string code = error_code(folder.path("a"));
    CAPTURE(code);
    CHECK((code == "implausible" || code == "truncated"));
    claim(folder.path("a"), 0, 10);
    CHECK(error_code(folder.path("a")) == "corrupt");
  }
  claim_png(folder.path("a"), 70000, 3);
  CHECK(error_message(folder.path("a")).find("65535 a side") != std::string::npos);
}

TEST_CASE("the caller's limits hold") {
  const TempFolder folder;
  write_png_file(folder.path("a"), patterned(40, 30, 1, 65535), {.bits = 16});
  images::ReadOptions options;
  options.limits = {1200, 40, 2400};
  CHECK(error_code(folder.path("a"), options).empty());
  options.limits = {1199, 40, 2400};
  CHECK(error_code(folder.path("a"), options) == "too-large");
  options.limits = {1200, 39, 2400};
  CHECK(error_code(folder.path("a"), options) == "too-large");
  options.limits = {1200, 40, 2399};
  CHECK(error_code(folder.path("a"), options) == "too-large");
}

TEST_CASE("the white of right-aligned and left-aligned camera data in 16 bits is found") {
  const TempFolder folder;
  const std::string path = folder.path("a");
  const auto white_of = [&](unsigned top, int factor) {
    Shape shape = patterned(37, 23, 1, top);
    for (double& sample : shape.samples) sample *= factor;
    write_png_file(path, shape, {.bits = 16});
    const images::Picture picture = read(path);
    CHECK(worst_difference(picture, shape.samples) == 0.0);
    CHECK(!picture.facts.white_reason.empty());
    return picture.white;
  };
  CHECK(white_of(1023, 1) == 1023.0);
  CHECK(white_of(4095, 1) == 4095.0);
  CHECK(white_of(3000, 1) == 4095.0);
  CHECK(white_of(16383, 1) == 16383.0);
  CHECK(white_of(65535, 1) == 65535.0);
  CHECK(white_of(1500, 1) == 65535.0);  // less than half of 4095: as well a dark picture of 16 bits
  CHECK(white_of(300, 1) == 65535.0);
  CHECK(white_of(1023, 64) == 65472.0);
  CHECK(white_of(4095, 16) == 65520.0);
  CHECK(white_of(16383, 4) == 65532.0);
  CHECK(white_of(255, 257) == 65535.0);
}

TEST_CASE("the largest sample a TIFF itself states is believed unless a sample is above it") {
  const TempFolder folder;
  write_tiff_file(folder.path("a"), patterned(37, 23, 1, 900), {.bits = 16, .largest_sample = 4095});
  CHECK(read(folder.path("a")).white == 4095.0);
  CHECK(read(folder.path("a")).facts.white_reason == "stated by the file");
  write_tiff_file(folder.path("a"), patterned(37, 23, 1, 60000), {.bits = 16, .largest_sample = 4095});
  CHECK(read(folder.path("a")).white == 65535.0);
}
