#include "images/write_png.h"

#include <png.h>

#include <array>
#include <bit>
#include <csetjmp>
#include <cstdio>
#include <stdexcept>

#include "images/guarded.h"

namespace images {
namespace {

struct Rows {
  const std::byte* data = nullptr;
  int width = 0, height = 0;
  std::ptrdiff_t row_bytes = 0;
  int bits = 8;
  int colour_type = PNG_COLOR_TYPE_GRAY;
  bool blue_first = false;
};

struct PngWriter {
  png_structp png = nullptr;
  png_infop info = nullptr;
  std::jmp_buf environment{};
  std::array<char, 160> message{};
  OutputFile* file = nullptr;

  explicit PngWriter(OutputFile& output) : file(&output) {}
  PngWriter(const PngWriter&) = delete;
  PngWriter& operator=(const PngWriter&) = delete;
  ~PngWriter() { png_destroy_write_struct(&png, &info); }
};

[[noreturn]] void on_error(png_structp png, png_const_charp message) {
  auto* writer = static_cast<PngWriter*>(png_get_error_ptr(png));
  std::snprintf(writer->message.data(), writer->message.size(), "%s", message);
  std::longjmp(writer->environment, 1);
}

void on_warning(png_structp, png_const_charp) {}

bool write_bytes(PngWriter& writer, const char* bytes, std::size_t count) {
  return writer.file->write({bytes, count}).has_value();
}

void on_write(png_structp png, png_bytep bytes, png_size_t count) {
  auto* writer = static_cast<PngWriter*>(png_get_io_ptr(png));
  if (!write_bytes(*writer, reinterpret_cast<const char*>(bytes), count)) png_error(png, "not written");
}

void on_flush(png_structp) {}

void encode(PngWriter& writer, const Rows& rows) {
  png_set_write_fn(writer.png, &writer, on_write, on_flush);
  png_set_IHDR(writer.png, writer.info, static_cast<png_uint_32>(rows.width), static_cast<png_uint_32>(rows.height),
               rows.bits, rows.colour_type, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  png_write_info(writer.png, writer.info);
  if (rows.bits == 16 && std::endian::native == std::endian::little) png_set_swap(writer.png);
  if (rows.blue_first) png_set_bgr(writer.png);
  for (int y = 0; y < rows.height; ++y) {
    png_write_row(writer.png, reinterpret_cast<png_const_bytep>(rows.data + y * rows.row_bytes));
  }
  png_write_end(writer.png, writer.info);
}

WriteResult write_rows(const std::string& path, const Rows& rows) {
  if (rows.data == nullptr || rows.width <= 0 || rows.height <= 0) {
    throw std::invalid_argument("write_png: an empty picture");
  }
  auto file = OutputFile::create(path);
  if (!file) return tl::unexpected(file.error());
  PngWriter writer(*file);
  writer.png = png_create_write_struct(PNG_LIBPNG_VER_STRING, &writer, on_error, on_warning);
  if (writer.png != nullptr) writer.info = png_create_info_struct(writer.png);
  const bool started = writer.info != nullptr;
  if (!started || !guarded(writer.environment, [&] { encode(writer, rows); })) {
    if (auto written = file->write({}); !written) return written;  // the reason, when it was the disk
    return tl::unexpected(WriteError{"unwritable", path + ": libpng says " + writer.message.data()});
  }
  return file->commit();
}

}  // namespace

WriteResult write_png(const std::string& path, const scale::ImageView& image) {
  if (image.type == scale::SampleType::f32) throw std::invalid_argument("write_png: float samples do not fit a PNG");
  const int bits = image.type == scale::SampleType::u16 ? 16 : 8;
  return write_rows(path, {static_cast<const std::byte*>(image.data), image.width, image.height, image.row_bytes, bits,
                           PNG_COLOR_TYPE_GRAY, false});
}

WriteResult write_png(const std::string& path, const ColourView& image) {
  return write_rows(path, {reinterpret_cast<const std::byte*>(image.data), image.width, image.height, image.row_bytes,
                           8, PNG_COLOR_TYPE_RGB, image.blue_first});
}

}  // namespace images
