#include "jpeg.h"

#include <cstdio>
#include <cstdlib>
#include <stdexcept>

#include <jpeglib.h>

namespace micrograph {
namespace {

[[noreturn]] void fail(j_common_ptr info) {
  char message[JMSG_LENGTH_MAX];
  info->err->format_message(info, message);
  throw std::runtime_error(message);
}

}  // namespace

std::vector<std::uint8_t> encode_jpeg(const Image& image, int quality) {
  if (image.bits != 8) throw std::invalid_argument("JPEG holds 8 bits a channel only");
  jpeg_compress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  errors.error_exit = fail;
  jpeg_create_compress(&info);
  unsigned char* buffer = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &buffer, &size);
  info.image_width = static_cast<JDIMENSION>(image.width);
  info.image_height = static_cast<JDIMENSION>(image.height);
  info.input_components = image.channels;
  info.in_color_space = image.channels == 3 ? JCS_RGB : JCS_GRAYSCALE;
  jpeg_set_defaults(&info);
  info.dct_method = JDCT_ISLOW;
  jpeg_set_quality(&info, quality, TRUE);
  jpeg_start_compress(&info, TRUE);
  const std::size_t stride = static_cast<std::size_t>(image.width) * image.channels;
  std::vector<std::uint8_t> row(stride);
  while (info.next_scanline < info.image_height) {
    for (std::size_t i = 0; i < stride; ++i) {
      row[i] = static_cast<std::uint8_t>(image.samples[info.next_scanline * stride + i]);
    }
    JSAMPROW pointer = row.data();
    jpeg_write_scanlines(&info, &pointer, 1);
  }
  jpeg_finish_compress(&info);
  std::vector<std::uint8_t> bytes(buffer, buffer + size);
  jpeg_destroy_compress(&info);
  std::free(buffer);
  return bytes;
}

Image decode_jpeg(const std::vector<std::uint8_t>& bytes) {
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  errors.error_exit = fail;
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, bytes.data(), static_cast<unsigned long>(bytes.size()));
  jpeg_read_header(&info, TRUE);
  info.dct_method = JDCT_ISLOW;
  jpeg_start_decompress(&info);
  Image image{static_cast<int>(info.output_width), static_cast<int>(info.output_height), info.output_components, 8, {}};
  const std::size_t stride = static_cast<std::size_t>(image.width) * image.channels;
  image.samples.reserve(stride * image.height);
  std::vector<std::uint8_t> row(stride);
  while (info.output_scanline < info.output_height) {
    JSAMPROW pointer = row.data();
    jpeg_read_scanlines(&info, &pointer, 1);
    image.samples.insert(image.samples.end(), row.begin(), row.end());
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
  return image;
}

}  // namespace micrograph
