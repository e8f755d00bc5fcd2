#include <png.h>

#include <cstdio>

#include "picture_files.h"

namespace picture_files {
namespace {

int colour_type(const Shape& shape, const PngKind& kind) {
  if (kind.palette) return PNG_COLOR_TYPE_PALETTE;
  constexpr int kTypes[] = {PNG_COLOR_TYPE_GRAY, PNG_COLOR_TYPE_GRAY_ALPHA, PNG_COLOR_TYPE_RGB, PNG_COLOR_TYPE_RGBA};
  return kTypes[shape.channels - 1];
}

void set_palette(png_structp png, png_infop info, const PngKind& kind) {
  std::vector<png_color> colours;
  for (const auto& c : kind.colours) {
    colours.push_back({static_cast<png_byte>(c[0]), static_cast<png_byte>(c[1]), static_cast<png_byte>(c[2])});
  }
  png_set_PLTE(png, info, colours.data(), static_cast<int>(colours.size()));
  std::vector<png_byte> alpha(kind.palette_alpha.begin(), kind.palette_alpha.end());
  if (!alpha.empty()) png_set_tRNS(png, info, alpha.data(), static_cast<int>(alpha.size()), nullptr);
}

// Rows with a byte a sample, or two for 16 bits, high byte first; png_set_packing packs what is smaller.
std::vector<std::vector<png_byte>> rows_of(const Shape& shape, int bits) {
  std::vector<std::vector<png_byte>> rows(shape.height);
  const std::size_t count = static_cast<std::size_t>(shape.width) * shape.channels;
  for (int y = 0; y < shape.height; ++y) {
    for (std::size_t i = 0; i < count; ++i) {
      const auto value = static_cast<unsigned>(shape.samples[y * count + i]);
      if (bits == 16) rows[y].push_back(static_cast<png_byte>(value >> 8));
      rows[y].push_back(static_cast<png_byte>(value & 0xFFU));
    }
  }
  return rows;
}

}  // namespace

void write_png_file(const std::string& path, const Shape& shape, const PngKind& kind) {
  std::FILE* file = std::fopen(path.c_str(), "wb");
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  png_init_io(png, file);
  png_set_IHDR(png, info, static_cast<png_uint_32>(shape.width), static_cast<png_uint_32>(shape.height), kind.bits,
               colour_type(shape, kind), kind.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  if (kind.palette) set_palette(png, info, kind);
  if (kind.transparent_grey >= 0) {
    png_color_16 grey{};
    grey.gray = static_cast<png_uint_16>(kind.transparent_grey);
    png_set_tRNS(png, info, nullptr, 0, &grey);
  }
  const auto metre = static_cast<png_uint_32>(kind.pixels_per_metre);
  if (metre > 0) png_set_pHYs(png, info, metre, metre, PNG_RESOLUTION_METER);
  std::string exif = kind.exif;
  if (!exif.empty()) {
    png_set_eXIf_1(png, info, static_cast<png_uint_32>(exif.size()), reinterpret_cast<png_bytep>(exif.data()));
  }
  png_write_info(png, info);
  png_set_packing(png);
  auto rows = rows_of(shape, kind.bits);
  std::vector<png_bytep> pointers;
  for (auto& row : rows) pointers.push_back(row.data());
  png_write_image(png, pointers.data());
  png_write_end(png, info);
  png_destroy_write_struct(&png, &info);
  std::fclose(file);
}

}  // namespace picture_files
