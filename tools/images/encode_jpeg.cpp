#include "images/encode_jpeg.h"

#include <cstdio>

#include <jpeglib.h>

#include <array>
#include <csetjmp>
#include <cstdlib>
#include <stdexcept>

#include "images/guarded.h"

namespace images {
namespace {

struct Encoder {
  jpeg_compress_struct jpeg{};
  jpeg_error_mgr errors{};
  std::jmp_buf environment{};
  std::array<char, JMSG_LENGTH_MAX> message{};
  unsigned char* bytes = nullptr;
  unsigned long size = 0;

  Encoder() = default;
  Encoder(const Encoder&) = delete;
  Encoder& operator=(const Encoder&) = delete;
  ~Encoder() {
    jpeg_destroy_compress(&jpeg);
    std::free(bytes);
  }
};

[[noreturn]] void leave(j_common_ptr jpeg) {
  auto* encoder = static_cast<Encoder*>(jpeg->client_data);
  jpeg->err->format_message(jpeg, encoder->message.data());
  std::longjmp(encoder->environment, 1);
}

void on_message(j_common_ptr, int) {}

void encode(Encoder& encoder, const ColourView& image, int quality) {
  jpeg_compress_struct& jpeg = encoder.jpeg;
  jpeg_create_compress(&jpeg);
  jpeg_mem_dest(&jpeg, &encoder.bytes, &encoder.size);
  jpeg.image_width = static_cast<JDIMENSION>(image.width);
  jpeg.image_height = static_cast<JDIMENSION>(image.height);
  jpeg.input_components = 3;
  jpeg.in_color_space = image.blue_first ? JCS_EXT_BGR : JCS_RGB;
  jpeg_set_defaults(&jpeg);
  jpeg_set_quality(&jpeg, quality, TRUE);
  jpeg.comp_info[0].h_samp_factor = jpeg.comp_info[0].v_samp_factor = 1;
  jpeg.optimize_coding = TRUE;
  jpeg_start_compress(&jpeg, TRUE);
  for (int y = 0; y < image.height; ++y) {
    JSAMPROW row = const_cast<JSAMPROW>(image.data + y * image.row_bytes);
    jpeg_write_scanlines(&jpeg, &row, 1);
  }
  jpeg_finish_compress(&jpeg);
}

}  // namespace

std::string encode_jpeg(const ColourView& image, int quality) {
  if (image.data == nullptr || image.width <= 0 || image.height <= 0)
    throw std::invalid_argument("encode_jpeg: an empty picture");
  Encoder encoder;
  encoder.jpeg.err = jpeg_std_error(&encoder.errors);
  encoder.jpeg.client_data = &encoder;
  encoder.errors.error_exit = leave;
  encoder.errors.emit_message = on_message;
  if (!guarded(encoder.environment, [&] { encode(encoder, image, quality); }))
    throw std::runtime_error(std::string("libjpeg says ") + encoder.message.data());
  return {reinterpret_cast<const char*>(encoder.bytes), encoder.size};
}

}  // namespace images
