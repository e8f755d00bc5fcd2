#include <cstdio>

#include <jpeglib.h>

#include <jerror.h>

#include <array>
#include <csetjmp>
#include <cstring>
#include <vector>

#include "images/exif_facts.h"
#include "images/guarded.h"
#include "images/jpeg_quality.h"
#include "images/pixels.h"
#include "images/reader.h"
#include "images/white.h"

namespace images {
namespace {

// A progressive file of a few kilobytes may hold thousands of scans, each of which costs a pass over the whole
// picture; real writers use about ten.
constexpr int kMostScans = 200;

struct JpegSession {
  jpeg_decompress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg_progress_mgr progress{};
  std::jmp_buf environment{};
  std::array<char, JMSG_LENGTH_MAX> message{};
  bool file_ended = false;
  std::vector<JSAMPLE> pixels;  // one row of colours

  JpegSession() = default;
  JpegSession(const JpegSession&) = delete;
  JpegSession& operator=(const JpegSession&) = delete;
  ~JpegSession() { jpeg_destroy_decompress(&jpeg); }
};

[[noreturn]] void leave(j_common_ptr jpeg) {
  auto* session = static_cast<JpegSession*>(jpeg->client_data);
  jpeg->err->format_message(jpeg, session->message.data());
  std::longjmp(session->environment, 1);
}

// libjpeg fills what is missing with grey and goes on: here a warning of that kind is an error.
void on_message(j_common_ptr jpeg, int level) {
  if (level >= 0) return;  // tracing
  const int code = jpeg->err->msg_code;
  if (code == JWRN_ADOBE_XFORM || code == JWRN_JFIF_MAJOR) return;  // about the header, the pixels are whole
  if (code == JWRN_JPEG_EOF) static_cast<JpegSession*>(jpeg->client_data)->file_ended = true;
  leave(jpeg);
}

void on_progress(j_common_ptr jpeg) {
  const auto* decompress = reinterpret_cast<j_decompress_ptr>(jpeg);
  if (decompress->input_scan_number <= kMostScans) return;
  jpeg->err->msg_code = JERR_BAD_PROGRESSION;
  leave(jpeg);
}

void prepare(JpegSession& session) {
  session.jpeg.err = jpeg_std_error(&session.errors);
  session.jpeg.client_data = &session;
  session.errors.error_exit = leave;
  session.errors.emit_message = on_message;
}

void start(JpegSession& session, std::FILE* file, const Limits& limits) {
  jpeg_create_decompress(&session.jpeg);
  session.progress.progress_monitor = on_progress;
  session.jpeg.progress = &session.progress;
  session.jpeg.mem->max_memory_to_use = static_cast<long>(limits.max_bytes);
  jpeg_save_markers(&session.jpeg, JPEG_APP0 + 1, 0xFFFF);
  jpeg_stdio_src(&session.jpeg, file);
  jpeg_read_header(&session.jpeg, TRUE);
}

const char* colour_model(J_COLOR_SPACE space) {
  switch (space) {
    case JCS_GRAYSCALE:
      return "grey";
    case JCS_YCbCr:
      return "ycbcr";
    case JCS_RGB:
      return "rgb";
    default:
      return "";
  }
}

void add_markers(const jpeg_decompress_struct& jpeg, FileFacts& facts) {
  if (jpeg.saw_JFIF_marker != 0) {
    const char* unit = jpeg.density_unit == 1 ? "per inch" : jpeg.density_unit == 2 ? "per centimetre" : "none";
    facts.resolution.push_back(
        {"JFIF", static_cast<double>(jpeg.X_density), static_cast<double>(jpeg.Y_density), unit});
  }
  for (auto* marker = jpeg.marker_list; marker != nullptr; marker = marker->next) {
    if (marker->data_length < 6 || std::memcmp(marker->data, "Exif\0\0", 6) != 0) continue;
    return read_exif({marker->data + 6, marker->data_length - 6}, facts);
  }
}

FileFacts facts_of(const jpeg_decompress_struct& jpeg, std::uintmax_t file_bytes) {
  FileFacts facts;
  facts.format = "JPEG";
  facts.file_bytes = file_bytes;
  facts.bits_per_sample = jpeg.data_precision;
  facts.channels = jpeg.num_components;
  facts.colour_model = colour_model(jpeg.jpeg_color_space);
  add_markers(jpeg, facts);
  return facts;
}

void decode_luminance(JpegSession& session, Picture& picture) {
  while (session.jpeg.output_scanline < session.jpeg.output_height) {
    auto* out = reinterpret_cast<JSAMPROW>(row_of(picture, static_cast<int>(session.jpeg.output_scanline)));
    jpeg_read_scanlines(&session.jpeg, &out, 1);
  }
}

void decode_colour(JpegSession& session, Picture& picture, Channel channel) {
  JSAMPROW row = session.pixels.data();
  while (session.jpeg.output_scanline < session.jpeg.output_height) {
    std::byte* out = row_of(picture, static_cast<int>(session.jpeg.output_scanline));
    jpeg_read_scanlines(&session.jpeg, &row, 1);
    take_channel(interleaved(row, 3, false, picture.width, picture.type), channel, out);
  }
}

void decode(JpegSession& session, Picture& picture, Channel channel) {
  session.jpeg.do_block_smoothing = FALSE;  // it invents detail that a file does not hold
  jpeg_start_decompress(&session.jpeg);
  if (session.jpeg.out_color_space == JCS_GRAYSCALE) {
    decode_luminance(session, picture);
  } else {
    decode_colour(session, picture, channel);
  }
  jpeg_finish_decompress(&session.jpeg);  // reads up to the end marker
}

ReadError failure_of(const JpegSession& session, int rows) {
  const int row = static_cast<int>(session.jpeg.output_scanline);
  if (session.errors.msg_code == JERR_OUT_OF_MEMORY || session.errors.msg_code == JERR_NO_BACKING_STORE) {
    return {"too-large", "decoding it needs more memory than the limit; save it as a baseline JPEG or a PNG"};
  }
  if (session.file_ended) return truncated_after_row(row, rows);
  return damaged_near_row(row, rows, session.message.data());
}

ReadError header_failure_of(const JpegSession& session) {
  if (session.file_ended) return {"truncated", "its header is cut off; export it again"};
  const std::string detail = session.message.data();
  switch (session.errors.msg_code) {
    case JERR_BAD_PRECISION:
    case JERR_SOF_UNSUPPORTED:
      return unsupported("a kind of JPEG that is not read (" + detail + "); save it as PNG");
    default:
      return {"corrupt", "damaged header (" + detail + "); export it again"};
  }
}

}  // namespace

ReadResult read_jpeg(Input& input, const ReadOptions& options) {
  JpegSession session;
  prepare(session);
  if (!guarded(session.environment, [&] { start(session, input.file.get(), options.limits); })) {
    return tl::unexpected(header_failure_of(session));
  }
  FileFacts facts = facts_of(session.jpeg, input.bytes);
  if (facts.colour_model.empty()) {
    return tl::unexpected(
        unsupported("its colours are printing inks (CMYK), whose brightness depends on paper and "
                    "press; save it as RGB or grey"));
  }
  const Claim claim{session.jpeg.image_width, session.jpeg.image_height, 8.0, scale::SampleType::u8};
  if (auto error = refuse_claim(claim, input.bytes, options.limits)) return tl::unexpected(*error);

  if (options.header_only) return header_alone(claim, std::move(facts));
  const bool grey = session.jpeg.jpeg_color_space == JCS_GRAYSCALE;
  const bool one_channel = grey || options.channel == Channel::luminance;
  session.jpeg.out_color_space = one_channel ? JCS_GRAYSCALE : JCS_RGB;
  session.pixels.resize(one_channel ? 0 : std::size_t{3} * session.jpeg.image_width);
  Picture picture = make_picture(claim);
  if (!guarded(session.environment, [&] { decode(session, picture, options.channel); })) {
    return tl::unexpected(failure_of(session, picture.height));
  }
  picture.facts = std::move(facts);
  picture.facts.jpeg_quality = jpeg_quality_of(session.jpeg.quant_tbl_ptrs[0]);
  static_cast<void>(decide_white(picture));  // false for float pictures only
  warn_orientation(picture);
  if (grey) warn_if_grey(picture, options.channel);
  return picture;
}

}  // namespace images
