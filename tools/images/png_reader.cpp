#include <png.h>

#include <algorithm>
#include <array>
#include <bit>
#include <csetjmp>
#include <cstdint>
#include <cstring>
#include <vector>

#include "images/exif_facts.h"
#include "images/guarded.h"
#include "images/pixels.h"
#include "images/reader.h"
#include "images/white.h"

namespace images {
namespace {

// A colour profile may be large, a chunk that is larger than this is an attack.
constexpr png_alloc_size_t kMostChunkBytes = 8'000'000;

struct PngSession {
  png_structp png = nullptr;
  png_infop info = nullptr;
  std::jmp_buf environment{};
  std::array<char, 160> message{};
  std::FILE* file = nullptr;
  bool file_ended = false;
  int channels = 0;
  bool alpha = false;
  bool opaque = true;
  int row = 0;                   // rows that came whole, for messages
  std::vector<png_byte> pixels;  // one row as decoded
  std::vector<png_byte> chosen;  // one row of an interlacing pass, one channel

  PngSession() = default;
  PngSession(const PngSession&) = delete;
  PngSession& operator=(const PngSession&) = delete;
  ~PngSession() { png_destroy_read_struct(&png, &info, nullptr); }
};

[[noreturn]] void on_error(png_structp png, png_const_charp message) {
  auto* session = static_cast<PngSession*>(png_get_error_ptr(png));
  std::snprintf(session->message.data(), session->message.size(), "%s", message);
  std::longjmp(session->environment, 1);
}

void on_warning(png_structp, png_const_charp) {}  // of ancillary chunks only: damage to the picture is an error

void on_read(png_structp png, png_bytep bytes, png_size_t count) {
  auto* session = static_cast<PngSession*>(png_get_io_ptr(png));
  if (std::fread(bytes, 1, count, session->file) == count) return;
  session->file_ended = true;
  png_error(png, "the file ends early");
}

void start(PngSession& session, const Limits& limits) {
  png_set_read_fn(session.png, &session, on_read);
  png_set_user_limits(session.png, 0x7FFF'FFFF, 0x7FFF'FFFF);  // refuse_claim says why, libpng would not
  png_set_chunk_malloc_max(session.png, std::min<png_alloc_size_t>(kMostChunkBytes, limits.max_bytes));
  png_read_info(session.png, session.info);
}

// Palettes to colours, 1 to 4 bits to 8, transparent colours to an alpha channel; then the shape of a row.
void expand(PngSession& session) {
  png_set_expand(session.png);
  if constexpr (std::endian::native == std::endian::little) png_set_swap(session.png);
  png_read_update_info(session.png, session.info);
  session.channels = png_get_channels(session.png, session.info);
  session.alpha = (png_get_color_type(session.png, session.info) & PNG_COLOR_MASK_ALPHA) != 0;
}

// Decodes one row (of a pass, when interlaced) and writes its channel to `out`.
void decode_row(PngSession& session, Channel channel, int width, scale::SampleType type, png_bytep out) {
  if (session.channels == 1) return png_read_row(session.png, out, nullptr);
  png_read_row(session.png, session.pixels.data(), nullptr);
  take_channel(interleaved(session.pixels.data(), session.channels, session.channels == 2, width, type), channel, out);
  if (!session.alpha || !session.opaque) return;
  const png_byte* alpha = session.pixels.data() + sample_bytes(type) * (session.channels - 1U);
  session.opaque = all_opaque(alpha, session.channels, width, type, type == scale::SampleType::u8 ? 255U : 65535U);
}

void decode_rows(PngSession& session, Picture& picture, Channel channel) {
  for (session.row = 0; session.row < picture.height; ++session.row) {
    auto* out = reinterpret_cast<png_bytep>(row_of(picture, session.row));
    decode_row(session, channel, picture.width, picture.type, out);
  }
}

// Adam7: seven small pictures, each scattered into the whole, so that no row of colours need be kept.
void decode_passes(PngSession& session, Picture& picture, Channel channel) {
  const std::size_t bytes = sample_bytes(picture.type);
  for (int pass = 0; pass < PNG_INTERLACE_ADAM7_PASSES; ++pass) {
    const int columns = static_cast<int>(PNG_PASS_COLS(picture.width, pass));
    const int rows = static_cast<int>(PNG_PASS_ROWS(picture.height, pass));
    for (int i = 0; columns > 0 && i < rows; ++i) {
      decode_row(session, channel, columns, picture.type, session.chosen.data());
      std::byte* out = row_of(picture, PNG_ROW_FROM_PASS_ROW(i, pass));
      for (int j = 0; j < columns; ++j) {
        std::memcpy(out + bytes * PNG_COL_FROM_PASS_COL(j, pass), session.chosen.data() + bytes * j, bytes);
      }
    }
  }
}

FileFacts facts_of(PngSession& session, std::uintmax_t file_bytes) {
  FileFacts facts;
  facts.format = "PNG";
  facts.file_bytes = file_bytes;
  facts.bits_per_sample = png_get_bit_depth(session.png, session.info);
  facts.channels = png_get_channels(session.png, session.info);
  const int colour_type = png_get_color_type(session.png, session.info);
  facts.colour_model = (colour_type & PNG_COLOR_MASK_PALETTE) != 0 ? "palette"
                       : (colour_type & PNG_COLOR_MASK_COLOR) != 0 ? "rgb"
                                                                   : "grey";
  return facts;
}

// Chunks that may stand before or after the pixels.
void add_chunk_facts(PngSession& session, FileFacts& facts) {
  png_uint_32 x = 0;
  png_uint_32 y = 0;
  int unit = PNG_RESOLUTION_UNKNOWN;
  if (png_get_pHYs(session.png, session.info, &x, &y, &unit) != 0) {
    const char* name = unit == PNG_RESOLUTION_METER ? "per metre" : "none";
    facts.resolution.push_back({"PNG pHYs", static_cast<double>(x), static_cast<double>(y), name});
  }
  png_uint_32 exif_bytes = 0;
  png_bytep exif = nullptr;
  if (png_get_eXIf_1(session.png, session.info, &exif_bytes, &exif) != 0) read_exif({exif, exif_bytes}, facts);
}

ReadError failure_of(const PngSession& session, int rows) {
  if (session.file_ended) return truncated_after_row(session.row, rows);
  return damaged_near_row(session.row, rows, session.message.data());
}

void add_warnings(const PngSession& session, Picture& picture, Channel option) {
  warn_orientation(picture);
  if (!session.opaque) warn_alpha(picture);
  if (picture.facts.bits_per_sample == 1) warn_bilevel(picture);
  if (picture.facts.colour_model == "grey") warn_if_grey(picture, option);
}

}  // namespace

ReadResult read_png(Input& input, const ReadOptions& options) {
  PngSession session;
  session.file = input.file.get();
  session.png = png_create_read_struct(PNG_LIBPNG_VER_STRING, &session, on_error, on_warning);
  if (session.png != nullptr) session.info = png_create_info_struct(session.png);
  if (session.info == nullptr) return tl::unexpected(unsupported("libpng cannot be started; reinstall it"));
  if (!guarded(session.environment, [&] { start(session, options.limits); })) {
    if (session.file_ended) return tl::unexpected(ReadError{"truncated", "its header is cut off; export it again"});
    return tl::unexpected(
        ReadError{"corrupt", std::string("damaged header (") + session.message.data() + "); export it again"});
  }
  Claim claim{png_get_image_width(session.png, session.info), png_get_image_height(session.png, session.info)};
  FileFacts facts = facts_of(session, input.bytes);
  claim.stored_bits_per_pixel = facts.bits_per_sample * facts.channels;
  claim.type = facts.bits_per_sample == 16 ? scale::SampleType::u16 : scale::SampleType::u8;
  if (auto error = refuse_claim(claim, input.bytes, options.limits)) return tl::unexpected(*error);

  if (options.header_only) {
    add_chunk_facts(session, facts);
    return header_alone(claim, std::move(facts));
  }
  const bool interlaced = png_get_interlace_type(session.png, session.info) != PNG_INTERLACE_NONE;
  if (!guarded(session.environment, [&] { expand(session); })) return tl::unexpected(failure_of(session, 0));
  Picture picture = make_picture(claim);
  session.pixels.resize(png_get_rowbytes(session.png, session.info));
  session.chosen.resize(interlaced ? sample_bytes(claim.type) * picture.width : 0);
  const bool whole = guarded(session.environment, [&] {
    interlaced ? decode_passes(session, picture, options.channel) : decode_rows(session, picture, options.channel);
    png_read_end(session.png, session.info);
  });
  if (!whole) return tl::unexpected(failure_of(session, picture.height));
  picture.facts = std::move(facts);
  add_chunk_facts(session, picture.facts);
  static_cast<void>(decide_white(picture));  // false for float pictures only
  add_warnings(session, picture, options.channel);
  return picture;
}

}  // namespace images
