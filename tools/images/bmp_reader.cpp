#define STBI_ONLY_BMP
#define STBI_NO_STDIO
#define STB_IMAGE_STATIC
#define STB_IMAGE_IMPLEMENTATION
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wunused-function"  // what BMP alone does not use
#include <stb/stb_image.h>
#pragma GCC diagnostic pop

#include <algorithm>
#include <array>
#include <memory>
#include <vector>

#include "images/pixels.h"
#include "images/reader.h"
#include "images/white.h"

// stb_image takes missing bytes for zeros, decodes whole pictures to colours and reads a palette past its end.
// So the header is read here first, and stb_image gets the rows in bands, each as a small picture under a header
// of one kind (108 bytes, masks, a full palette).
namespace images {
namespace {

using Bytes = std::vector<unsigned char>;

constexpr std::size_t kFileHeader = 14;
constexpr std::size_t kBandHeader = kFileHeader + 108;
constexpr std::size_t kPaletteEntries = 256;
constexpr std::size_t kBandBytes = std::size_t{1} << 18;  // fits a core's second-level cache

struct BmpHeader {
  std::int64_t width = 0, height = 0;
  bool bottom_up = true;
  unsigned bits = 0;  // of a pixel
  unsigned compression = 0;
  std::uint64_t pixels_at = 0;
  std::array<std::uint32_t, 4> masks{};  // red, green, blue, alpha; of 16 and 32 bits
  Bytes palette;                         // 256 entries of blue, green, red, 0; of 1 to 8 bits
  double x_per_metre = 0.0, y_per_metre = 0.0;

  std::uint64_t row_bytes() const { return (static_cast<std::uint64_t>(width) * bits + 31) / 32 * 4; }
};

std::uint32_t number(const Bytes& bytes, std::size_t at, std::size_t count) {
  std::uint32_t value = 0;
  for (std::size_t i = count; i-- > 0;) value = value << 8 | (at + i < bytes.size() ? bytes[at + i] : 0U);
  return value;
}

std::int64_t signed_number(const Bytes& bytes, std::size_t at) {
  return static_cast<std::int32_t>(number(bytes, at, 4));
}

void put(Bytes& bytes, std::size_t at, std::uint32_t value, std::size_t count) {
  for (std::size_t i = 0; i < count; ++i) bytes[at + i] = static_cast<unsigned char>(value >> 8 * i);
}

ReadError cut_header() { return {"truncated", "its header is cut off; export it again"}; }

void read_masks(const Bytes& head, std::size_t info_bytes, BmpHeader& header) {
  if (header.compression == 3) {
    for (std::size_t i = 0; i < 3; ++i) header.masks[i] = number(head, kFileHeader + 40 + 4 * i, 4);
    if (info_bytes >= 56) header.masks[3] = number(head, kFileHeader + 52, 4);
  } else if (header.bits == 16) {
    header.masks = {0x7C00U, 0x03E0U, 0x001FU, 0U};
  } else {
    header.masks = {0xFF0000U, 0xFF00U, 0xFFU, 0U};  // the fourth byte has no meaning here
  }
}

void read_palette(const Bytes& head, std::size_t info_bytes, BmpHeader& header) {
  const std::size_t entry = info_bytes == 12 ? 3 : 4;
  header.palette.assign(kPaletteEntries * 4, 0);
  for (std::size_t i = 0; i < std::size_t{1} << header.bits; ++i) {
    const std::size_t at = kFileHeader + info_bytes + entry * i;
    if (at + entry > header.pixels_at || at + entry > head.size()) return;
    std::copy_n(head.begin() + at, 3, header.palette.begin() + 4 * i);
  }
}

tl::expected<BmpHeader, ReadError> parse(const Bytes& head) {
  const std::size_t info_bytes = number(head, kFileHeader, 4);
  if (head.size() < kFileHeader + 12) return tl::unexpected(cut_header());
  if (info_bytes != 12 && info_bytes != 40 && info_bytes != 52 && info_bytes != 56 && info_bytes != 108 &&
      info_bytes != 124) {
    return tl::unexpected(unsupported("a kind of BMP that is not read; save it as PNG"));
  }
  if (head.size() < kFileHeader + info_bytes) return tl::unexpected(cut_header());
  BmpHeader header;
  const bool old = info_bytes == 12;
  header.pixels_at = number(head, 10, 4);
  header.width = old ? number(head, 18, 2) : signed_number(head, 18);
  const std::int64_t height = old ? number(head, 20, 2) : signed_number(head, 22);
  header.bottom_up = height >= 0;
  header.height = height < 0 ? -height : height;
  header.bits = number(head, old ? 24 : 28, 2);
  header.compression = old ? 0 : number(head, 30, 4);
  if (!old) {
    header.x_per_metre = static_cast<double>(signed_number(head, 38));
    header.y_per_metre = static_cast<double>(signed_number(head, 42));
  }
  if (header.compression != 0 && header.compression != 3) {
    return tl::unexpected(unsupported("a compressed BMP; save it as PNG"));
  }
  const bool masked = header.bits == 16 || header.bits == 32;
  const bool known = header.bits == 1 || header.bits == 4 || header.bits == 8 || header.bits == 24 || masked;
  if (!known || (header.compression == 3 && !masked)) {
    return tl::unexpected(
        ReadError{"corrupt", "its header claims " + std::to_string(header.bits) + " bits a pixel; export it again"});
  }
  if (masked) read_masks(head, info_bytes, header);
  if (header.bits <= 8) read_palette(head, info_bytes, header);
  return header;
}

// The header of a band, to which the rows are appended.
Bytes band_header(const BmpHeader& header) {
  Bytes bytes(kBandHeader + header.palette.size());
  std::ranges::copy(header.palette, bytes.begin() + kBandHeader);
  bytes[0] = 'B';
  bytes[1] = 'M';
  put(bytes, 10, static_cast<std::uint32_t>(bytes.size()), 4);
  put(bytes, 14, 108, 4);
  put(bytes, 18, static_cast<std::uint32_t>(header.width), 4);
  put(bytes, 26, 1, 2);
  put(bytes, 28, header.bits, 2);
  const bool masked = header.bits == 16 || header.bits == 32;
  put(bytes, 30, masked ? 3 : 0, 4);
  for (std::size_t i = 0; i < 4; ++i) put(bytes, 54 + 4 * i, header.masks[i], 4);
  return bytes;
}

struct FreePixels {
  void operator()(unsigned char* pixels) const { stbi_image_free(pixels); }
};

// Decodes the rows that follow `head` in `band` into rows `first`, `first` + 1, .. of the file.
bool decode_band(const Bytes& band, int first, int rows, const BmpHeader& header, Channel channel, Picture& picture,
                 bool& opaque) {
  int width = 0;
  int height = 0;
  int channels = 0;
  const std::unique_ptr<unsigned char, FreePixels> pixels(
      stbi_load_from_memory(band.data(), static_cast<int>(band.size()), &width, &height, &channels, STBI_rgb_alpha));
  if (!pixels || width != picture.width || height != rows) return false;
  for (int i = 0; i < rows; ++i) {
    const unsigned char* row = pixels.get() + std::size_t{4} * width * i;
    const int y = header.bottom_up ? picture.height - 1 - (first + i) : first + i;
    take_channel(interleaved(row, 4, false, width, picture.type), channel, row_of(picture, y));
    if (header.masks[3] != 0 && opaque) opaque = all_opaque(row + 3, 4, width, picture.type, 255U);
  }
  return true;
}

std::optional<ReadError> decode(Input& input, const BmpHeader& header, Channel channel, Picture& picture,
                                bool& opaque) {
  const std::uint64_t row_bytes = header.row_bytes();
  const int most_rows = static_cast<int>(std::max<std::uint64_t>(1, kBandBytes / row_bytes));
  Bytes band = band_header(header);
  const std::size_t head_bytes = band.size();
  if (std::fseek(input.file.get(), static_cast<long>(header.pixels_at), SEEK_SET) != 0) return cut_header();
  for (int first = 0; first < picture.height; first += most_rows) {
    const int rows = std::min(most_rows, picture.height - first);
    band.resize(head_bytes + row_bytes * rows);
    put(band, 22, static_cast<std::uint32_t>(-rows), 4);
    const std::size_t got = std::fread(band.data() + head_bytes, 1, row_bytes * rows, input.file.get());
    if (got != row_bytes * rows) return truncated_after_row(first, picture.height);
    if (!decode_band(band, first, rows, header, channel, picture, opaque)) {
      return damaged_near_row(first, picture.height, "its colour masks cannot be read");
    }
  }
  return std::nullopt;
}

FileFacts facts_of(const BmpHeader& header, std::uintmax_t file_bytes) {
  FileFacts facts;
  facts.format = "BMP";
  facts.file_bytes = file_bytes;
  facts.channels = header.bits <= 8 ? 1 : header.masks[3] != 0 ? 4 : 3;
  facts.bits_per_sample = header.bits <= 8 ? static_cast<int>(header.bits) : header.bits == 16 ? 5 : 8;
  facts.colour_model = header.bits <= 8 ? "palette" : "rgb";
  if (header.x_per_metre > 0.0 && header.y_per_metre > 0.0) {
    facts.resolution.push_back({"BMP", header.x_per_metre, header.y_per_metre, "per metre"});
  }
  return facts;
}

}  // namespace

ReadResult read_bmp(Input& input, const ReadOptions& options) {
  Bytes head(kFileHeader + 124 + kPaletteEntries * 4);
  head.resize(std::fread(head.data(), 1, head.size(), input.file.get()));
  const auto header = parse(head);
  if (!header) return tl::unexpected(header.error());
  const Claim claim{header->width, header->height, static_cast<double>(header->bits)};
  if (auto error = refuse_claim(claim, input.bytes, options.limits)) return tl::unexpected(*error);
  const std::uint64_t available = input.bytes - std::min<std::uint64_t>(input.bytes, header->pixels_at);
  const std::uint64_t whole_rows = available / header->row_bytes();
  if (whole_rows < static_cast<std::uint64_t>(header->height)) {
    return tl::unexpected(truncated_after_row(static_cast<int>(whole_rows), static_cast<int>(header->height)));
  }
  if (options.header_only) return header_alone(claim, facts_of(*header, input.bytes));
  Picture picture = make_picture(claim);
  bool opaque = true;
  if (auto error = decode(input, *header, options.channel, picture, opaque)) return tl::unexpected(*error);
  picture.facts = facts_of(*header, input.bytes);
  static_cast<void>(decide_white(picture));  // false for float pictures only
  if (!opaque) warn_alpha(picture);
  if (header->bits == 1) warn_bilevel(picture);
  return picture;
}

}  // namespace images
