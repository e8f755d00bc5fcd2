#include "picture_files.h"

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>

namespace picture_files {

TempFolder::TempFolder() {
  std::string name = (std::filesystem::temp_directory_path() / "images-test-XXXXXX").string();
  if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
  folder_ = name;
}

TempFolder::~TempFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(folder_, ignored);
}

std::string read_bytes(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

void write_bytes(const std::string& path, std::string_view bytes) {
  std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

namespace {

// The mixing step of the splitmix64 generator.
std::uint64_t mixed(std::uint64_t value) {
  value += 0x9E3779B97F4A7C15ULL;
  value = (value ^ value >> 30) * 0xBF58476D1CE4E5B9ULL;
  value = (value ^ value >> 27) * 0x94D049BB133111EBULL;
  return value ^ value >> 31;
}

}  // namespace

std::vector<double> pattern(int width, int height, int channels, unsigned top) {
  std::vector<double> samples(static_cast<std::size_t>(width) * height * channels);
  for (std::size_t i = 0; i < samples.size(); ++i) samples[i] = static_cast<double>(mixed(i) % (top + 1ULL));
  samples.front() = top;  // the largest value always occurs
  return samples;
}

std::vector<double> square_pattern(int width, int height, int channels) {
  std::vector<double> samples;
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      for (int c = 0; c < channels; ++c) {
        const auto square = static_cast<std::uint64_t>((y / 8 * 1000 + x / 8) * 4 + c);
        samples.push_back(static_cast<double>(mixed(square) % 256));
      }
    }
  }
  return samples;
}

Shape patterned(int width, int height, int channels, unsigned top) {
  return {width, height, channels, pattern(width, height, channels, top)};
}

namespace {

void append(std::string& bytes, std::uint32_t value, int count) {
  for (int i = 0; i < count; ++i) bytes.push_back(static_cast<char>(value >> 8 * i));
}

void append_entry(std::string& bytes, int tag, int type, std::size_t count, std::uint32_t value) {
  append(bytes, static_cast<std::uint32_t>(tag), 2);
  append(bytes, static_cast<std::uint32_t>(type), 2);
  append(bytes, static_cast<std::uint32_t>(count), 4);
  append(bytes, value, 4);
}

}  // namespace

std::string exif_block(int orientation, const std::string& make, const std::string& model) {
  constexpr std::uint32_t kEntries = 5;
  constexpr std::uint32_t kData = 8 + 2 + kEntries * 12 + 4;
  std::string bytes = "II*";
  append(bytes, 0, 1);
  append(bytes, 8, 4);
  append(bytes, kEntries, 2);
  append_entry(bytes, 0x010F, 2, make.size() + 1, kData);
  append_entry(bytes, 0x0110, 2, model.size() + 1, kData + 32);
  append_entry(bytes, 0x0112, 3, 1, static_cast<std::uint32_t>(orientation));
  append_entry(bytes, 0x011A, 5, 1, kData + 64);
  append_entry(bytes, 0x011B, 5, 1, kData + 64);
  append(bytes, 0, 4);
  bytes += make + std::string(32 - make.size(), '\0') + model + std::string(32 - model.size(), '\0');
  append(bytes, 145, 4);
  append(bytes, 2, 4);
  return bytes;
}

void write_front_directory_tiff(const std::string& path, const Shape& shape, int rows_per_strip) {
  constexpr std::uint32_t kEntries = 8;
  const auto strips = static_cast<std::uint32_t>((shape.height + rows_per_strip - 1) / rows_per_strip);
  const std::uint32_t arrays_at = 8 + 2 + kEntries * 12 + 4;
  const std::uint32_t pixels_at = arrays_at + 8 * strips;
  const auto strip_bytes = static_cast<std::uint32_t>(shape.width * rows_per_strip);
  std::string bytes = "II*";
  append(bytes, 0, 1);
  append(bytes, 8, 4);
  append(bytes, kEntries, 2);
  append_entry(bytes, 256, 4, 1, static_cast<std::uint32_t>(shape.width));
  append_entry(bytes, 257, 4, 1, static_cast<std::uint32_t>(shape.height));
  append_entry(bytes, 258, 3, 1, 8);  // bits
  append_entry(bytes, 259, 3, 1, 1);  // no compression
  append_entry(bytes, 262, 3, 1, 1);  // BlackIsZero
  append_entry(bytes, 273, 4, strips, arrays_at);
  append_entry(bytes, 278, 4, 1, static_cast<std::uint32_t>(rows_per_strip));
  append_entry(bytes, 279, 4, strips, arrays_at + 4 * strips);
  append(bytes, 0, 4);
  for (std::uint32_t i = 0; i < strips; ++i) append(bytes, pixels_at + i * strip_bytes, 4);
  for (std::uint32_t i = 0; i < strips; ++i) append(bytes, strip_bytes, 4);
  for (const double sample : shape.samples) append(bytes, static_cast<std::uint32_t>(sample), 1);
  write_bytes(path, bytes);
}

namespace {

void append_bmp_row(std::string& bytes, const double* pixels, const Shape& shape, int bits) {
  const std::size_t start = bytes.size();
  std::uint32_t held = 0;
  for (int x = 0; x < shape.width && bits <= 8; ++x) {
    held = held << bits | static_cast<std::uint32_t>(pixels[x]);
    const int held_bits = (x * bits) % 8 + bits;
    if (held_bits == 8 || x + 1 == shape.width) append(bytes, held << (8 - held_bits), 1);
    if (held_bits == 8) held = 0;
  }
  for (int x = 0; x < shape.width && bits > 8; ++x) {
    const double* pixel = pixels + static_cast<std::ptrdiff_t>(x) * shape.channels;
    for (const int i : {2, 1, 0}) append(bytes, static_cast<std::uint32_t>(pixel[i]), 1);
    if (bits == 32) append(bytes, shape.channels == 4 ? static_cast<std::uint32_t>(pixel[3]) : 0U, 1);
  }
  while ((bytes.size() - start) % 4 != 0) bytes.push_back('\0');
}

}  // namespace

void write_bmp_file(const std::string& path, const Shape& shape, const BmpKind& kind) {
  const std::uint32_t info = kind.alpha_mask ? 108 : 40;
  const std::uint32_t pixels_at = 14 + info + static_cast<std::uint32_t>(4 * kind.colours.size());
  std::string bytes = "BM";
  bytes.append(8, '\0');
  append(bytes, pixels_at, 4);
  append(bytes, info, 4);
  append(bytes, static_cast<std::uint32_t>(shape.width), 4);
  append(bytes, static_cast<std::uint32_t>(kind.top_down ? -shape.height : shape.height), 4);
  append(bytes, 1, 2);
  append(bytes, static_cast<std::uint32_t>(kind.bits), 2);
  append(bytes, kind.alpha_mask ? 3 : 0, 4);
  append(bytes, 0, 4);
  append(bytes, 2835, 4);
  append(bytes, 2835, 4);
  bytes.append(8, '\0');
  if (kind.alpha_mask) {
    for (const std::uint32_t mask : {0xFF0000U, 0xFF00U, 0xFFU, 0xFF000000U}) append(bytes, mask, 4);
    bytes.append(14 + info - bytes.size(), '\0');
  }
  for (const auto& colour : kind.colours) {
    for (const int i : {2, 1, 0}) append(bytes, static_cast<std::uint32_t>(colour[i]), 1);
    append(bytes, 0, 1);
  }
  for (int row = 0; row < shape.height; ++row) {
    const int y = kind.top_down ? row : shape.height - 1 - row;
    const std::size_t first = static_cast<std::size_t>(y) * shape.width * shape.channels;
    append_bmp_row(bytes, shape.samples.data() + first, shape, kind.bits);
  }
  write_bytes(path, bytes);
}

}  // namespace picture_files
