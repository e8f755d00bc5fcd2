#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <memory>
#include <stdexcept>

#include <png.h>
#include <tiffio.h>

#include "jpeg.h"
#include "micrograph/files.h"

namespace micrograph {
namespace {

std::string reason() { return std::strerror(errno); }

[[noreturn]] void fail(const std::string& path, const std::string& cause) {
  throw std::runtime_error(path + ": cannot be written: " + cause);
}

/// A file beside the wanted one that takes its name only when it is whole.
class Draft {
 public:
  explicit Draft(std::string path) : path_(std::move(path)), draft_(path_ + ".part") {}
  ~Draft() {
    std::error_code ignored;
    std::filesystem::remove(draft_, ignored);
  }
  Draft(const Draft&) = delete;
  Draft& operator=(const Draft&) = delete;
  const std::string& name() const { return draft_; }
  void commit() const {
    std::error_code error;
    std::filesystem::rename(draft_, path_, error);
    if (error) fail(path_, error.message());
  }

 private:
  std::string path_;
  std::string draft_;
};

void write_bytes(const void* bytes, std::size_t size, const std::string& path) {
  const Draft draft(path);
  std::ofstream out(draft.name(), std::ios::binary);
  out.write(static_cast<const char*>(bytes), static_cast<std::streamsize>(size));
  out.close();
  if (!out) fail(path, reason());
  draft.commit();
}

std::vector<std::uint8_t> row_bytes(const Image& image, int y, bool big_endian) {
  const std::size_t stride = static_cast<std::size_t>(image.width) * image.channels;
  std::vector<std::uint8_t> row;
  row.reserve(stride * 2);
  for (std::size_t i = 0; i < stride; ++i) {
    const std::uint16_t value = image.samples[static_cast<std::size_t>(y) * stride + i];
    const auto low = static_cast<std::uint8_t>(value & 0xff);
    const auto high = static_cast<std::uint8_t>(value >> 8);
    if (image.bits > 8 && big_endian) row.push_back(high);
    row.push_back(low);
    if (image.bits > 8 && !big_endian) row.push_back(high);
  }
  return row;
}

[[noreturn]] void png_fail(png_structp, png_const_charp message) { throw std::runtime_error(message); }
void png_ignore(png_structp, png_const_charp) {}

void append_bytes(png_structp png, png_bytep data, png_size_t size) {
  auto& bytes = *static_cast<std::vector<std::uint8_t>*>(png_get_io_ptr(png));
  bytes.insert(bytes.end(), data, data + size);
}

void write_png(const Image& image, const std::string& path) {
  std::vector<std::uint8_t> bytes;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, png_fail, png_ignore);
  png_infop info = png_create_info_struct(png);
  png_set_write_fn(png, &bytes, append_bytes, nullptr);
  png_set_compression_level(png, 3);
  png_set_IHDR(png, info, static_cast<png_uint_32>(image.width), static_cast<png_uint_32>(image.height),
               image.bits > 8 ? 16 : 8, image.channels == 3 ? PNG_COLOR_TYPE_RGB : PNG_COLOR_TYPE_GRAY,
               PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  png_write_info(png, info);
  for (int y = 0; y < image.height; ++y) png_write_row(png, row_bytes(image, y, true).data());
  png_write_end(png, info);
  png_destroy_write_struct(&png, &info);
  write_bytes(bytes.data(), bytes.size(), path);
}

void write_tiff(const Image& image, const std::string& path) {
  const Draft draft(path);
  TIFFSetErrorHandler(nullptr);
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff(TIFFOpen(draft.name().c_str(), "wl"), TIFFClose);
  if (!tiff) fail(path, reason());
  TIFFSetField(tiff.get(), TIFFTAG_IMAGEWIDTH, image.width);
  TIFFSetField(tiff.get(), TIFFTAG_IMAGELENGTH, image.height);
  TIFFSetField(tiff.get(), TIFFTAG_SAMPLESPERPIXEL, image.channels);
  TIFFSetField(tiff.get(), TIFFTAG_BITSPERSAMPLE, image.bits > 8 ? 16 : 8);
  TIFFSetField(tiff.get(), TIFFTAG_PHOTOMETRIC, image.channels == 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK);
  TIFFSetField(tiff.get(), TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff.get(), TIFFTAG_ROWSPERSTRIP, 64);
  for (int y = 0; y < image.height; ++y) {
    std::vector<std::uint8_t> row = row_bytes(image, y, false);
    if (TIFFWriteScanline(tiff.get(), row.data(), static_cast<std::uint32_t>(y), 0) < 0) fail(path, reason());
  }
  if (TIFFFlush(tiff.get()) == 0) fail(path, reason());
  draft.commit();
}

}  // namespace

void write_text(const std::string& text, const std::string& path) { write_bytes(text.data(), text.size(), path); }

void write_image(const Image& image, const std::string& path, FileFormat format, int jpeg_quality) {
  if (format == FileFormat::png) return write_png(image, path);
  if (format == FileFormat::tiff) return write_tiff(image, path);
  const std::vector<std::uint8_t> bytes = encode_jpeg(image, jpeg_quality > 0 ? jpeg_quality : 95);
  write_bytes(bytes.data(), bytes.size(), path);
}

}  // namespace micrograph
