#include <algorithm>
#include <array>
#include <cstring>
#include <limits>
#include <memory>
#include <vector>

#include "images/pixels.h"
#include "images/tiff_file.h"
#include "images/tiff_layout.h"
#include "images/white.h"

namespace images {
namespace {

using Bytes = std::vector<std::byte>;

// Samples of fewer than 8, or 9 to 15 bits, packed one after the other, the first in the highest bits.
template <class Sample>
void unpack_bits(const std::byte* packed, int bits, std::size_t count, unsigned factor, Sample* out) {
  unsigned held = 0;
  int held_bits = 0;
  for (std::size_t i = 0; i < count; ++i) {
    for (; held_bits < bits; held_bits += 8) held = held << 8 | std::to_integer<unsigned>(*packed++);
    held_bits -= bits;
    out[i] = static_cast<Sample>((held >> held_bits & ((1U << bits) - 1U)) * factor);
  }
}

void narrow(const std::byte* doubles, std::size_t count, float* out) {
  for (std::size_t i = 0; i < count; ++i) {
    double value = 0.0;
    std::memcpy(&value, doubles + i * sizeof value, sizeof value);
    out[i] = static_cast<float>(value);
  }
}

template <class Sample>
void invert(std::byte* row, int width, unsigned top) {
  auto* samples = reinterpret_cast<Sample*>(row);
  for (int i = 0; i < width; ++i) samples[i] = static_cast<Sample>(top - samples[i]);
}

template <class Sample>
void look_up(const std::vector<std::uint16_t>& palette, const PixelRow& row, std::byte* out) {
  const auto* indices = static_cast<const std::uint8_t*>(row.red);
  auto* samples = reinterpret_cast<Sample*>(out);
  for (std::ptrdiff_t i = 0; i < row.width; ++i) samples[i] = static_cast<Sample>(palette[indices[i * row.step]]);
}

// Decodes one page into a picture.
class TiffDecoder {
 public:
  TiffDecoder(const Input& input, const ReadOptions& options, const TiffLayout& layout, Picture& picture);

  // Nothing when the picture is whole.
  std::optional<ReadError> decode();
  bool opaque() const { return opaque_; }

 private:
  struct Plane {
    std::unique_ptr<TiffFile> file;
    int channel = 0;      // of the file, when each has its own plane
    Bytes raw, unpacked;  // one row or tile as decoded; one row of whole samples
  };

  void open_planes(const Input& input, const ReadOptions& options);
  std::optional<ReadError> decode_rows();
  std::optional<ReadError> decode_tiles();
  std::optional<ReadError> decode_tile_row(std::int64_t y);
  std::optional<ReadError> decode_rgba(std::int64_t limit);
  void put_segment(int x, int y, int width, std::size_t raw_offset);
  const void* unpack(Plane& plane, std::size_t raw_offset, int width) const;
  PixelRow pixel_row(const std::array<const void*, 4>& planes, int width) const;
  ReadError damaged(std::int64_t row, const Plane& plane) const;

  const TiffLayout& layout_;
  Picture& picture_;
  Channel channel_;
  std::int64_t max_bytes_;
  std::vector<Plane> planes_;
  std::size_t colour_planes_ = 1;
  int plane_channels_;
  std::size_t row_bytes_ = 0;  // of a row of one plane as decoded
  bool direct_ = false;        // rows need no change on their way into the picture
  bool opaque_ = true;
};

TiffDecoder::TiffDecoder(const Input& input, const ReadOptions& options, const TiffLayout& layout, Picture& picture)
    : layout_(layout),
      picture_(picture),
      channel_(options.channel),
      max_bytes_(options.limits.max_bytes),
      plane_channels_(layout.separate ? 1 : layout.channels) {
  open_planes(input, options);
  row_bytes_ = (static_cast<std::size_t>(picture.width) * plane_channels_ * layout.bits + 7) / 8;
  const bool whole_samples = layout.bits == 8 || layout.bits == 16 || layout.bits == 32;
  direct_ = whole_samples && plane_channels_ == 1 && planes_.size() == 1 && layout.palette.empty();
}

// Each plane is read by a handle of its own, so that all of them advance row by row together.
void TiffDecoder::open_planes(const Input& input, const ReadOptions& options) {
  std::vector<int> channels{0};
  if (layout_.separate && layout_.colour) {
    if (channel_ == Channel::luminance) channels = {0, 1, 2};
    if (channel_ == Channel::green) channels = {1};
    if (channel_ == Channel::blue) channels = {2};
  }
  colour_planes_ = channels.size();
  if (layout_.separate && layout_.alpha >= 0) channels.push_back(layout_.alpha);
  for (const int channel : channels) {
    Plane plane;
    plane.file = std::make_unique<TiffFile>(input, options.limits);
    plane.channel = channel;
    if (layout_.jpeg_to_rgb && plane.file->get() != nullptr) {
      TIFFSetField(plane.file->get(), TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
    }
    plane.file->expect_pixels();
    plane.unpacked.resize(static_cast<std::size_t>(picture_.width) * plane_channels_ * sizeof(float));
    planes_.push_back(std::move(plane));
  }
}

ReadError TiffDecoder::damaged(std::int64_t row, const Plane& plane) const {
  return damaged_near_row(static_cast<int>(row), picture_.height, plane.file->complaint());
}

const void* TiffDecoder::unpack(Plane& plane, std::size_t raw_offset, int width) const {
  const std::byte* raw = plane.raw.data() + raw_offset;
  const std::size_t count = static_cast<std::size_t>(width) * plane_channels_;
  std::byte* out = plane.unpacked.data();
  if (layout_.bits == 64) {
    narrow(raw, count, reinterpret_cast<float*>(out));
  } else if (layout_.bits < 8) {
    const unsigned factor = layout_.palette.empty() ? 255U / ((1U << layout_.bits) - 1U) : 1U;
    unpack_bits(raw, layout_.bits, count, factor, reinterpret_cast<std::uint8_t*>(out));
  } else if (layout_.bits > 8 && layout_.bits < 16) {
    unpack_bits(raw, layout_.bits, count, 1U, reinterpret_cast<std::uint16_t*>(out));
  } else {
    return raw;
  }
  return out;
}

PixelRow TiffDecoder::pixel_row(const std::array<const void*, 4>& planes, int width) const {
  const scale::SampleType type = layout_.palette.empty() ? layout_.type : scale::SampleType::u8;
  if (!layout_.separate) return interleaved(planes[0], layout_.channels, !layout_.colour, width, type);
  if (colour_planes_ == 1) return {planes[0], nullptr, nullptr, 1, width, type};
  return {planes[0], planes[1], planes[2], 1, width, type};
}

void TiffDecoder::put_segment(int x, int y, int width, std::size_t raw_offset) {
  const std::size_t bytes = sample_bytes(layout_.type);
  std::byte* out = row_of(picture_, y) + bytes * x;
  std::array<const void*, 4> samples{};
  for (std::size_t i = 0; i < planes_.size(); ++i) samples[i] = unpack(planes_[i], raw_offset, width);
  const PixelRow row = pixel_row(samples, width);
  if (layout_.palette.empty()) {
    take_channel(row, channel_, out);
  } else if (layout_.type == scale::SampleType::u8) {
    look_up<std::uint8_t>(layout_.palette, row, out);
  } else {
    look_up<std::uint16_t>(layout_.palette, row, out);
  }
  if (layout_.alpha < 0 || !opaque_ || layout_.via_rgba) return;
  const auto* alpha = static_cast<const std::byte*>(samples[layout_.separate ? planes_.size() - 1 : 0]);
  opaque_ = all_opaque(alpha + (layout_.separate ? 0 : bytes * layout_.alpha), plane_channels_, width, row.type,
                       layout_.top());
}

std::optional<ReadError> TiffDecoder::decode_rows() {
  if (TIFFScanlineSize(planes_[0].file->get()) != static_cast<tmsize_t>(row_bytes_)) {
    return ReadError{"corrupt", "its rows have another length than its header says; export it again"};
  }
  for (auto& plane : planes_) plane.raw.resize(direct_ ? 0 : row_bytes_);
  for (int y = 0; y < picture_.height; ++y) {
    for (auto& plane : planes_) {
      void* into = direct_ ? row_of(picture_, y) : plane.raw.data();
      const auto sample = static_cast<std::uint16_t>(plane.channel);
      const bool read = TIFFReadScanline(plane.file->get(), into, static_cast<std::uint32_t>(y), sample) == 1;
      if (!read || !plane.file->complaint().empty()) return damaged(y, plane);
    }
    if (!direct_) put_segment(0, y, picture_.width, 0);
  }
  return std::nullopt;
}

std::optional<ReadError> TiffDecoder::decode_tile_row(std::int64_t y) {
  TIFF* first = planes_[0].file->get();
  const auto columns = static_cast<int>(tag_or<std::uint32_t>(first, TIFFTAG_TILEWIDTH, 0));
  const auto rows = static_cast<int>(tag_or<std::uint32_t>(first, TIFFTAG_TILELENGTH, 0));
  const auto row_bytes = static_cast<std::size_t>(TIFFTileRowSize(first));
  for (std::int64_t x = 0; x < picture_.width; x += columns) {
    for (auto& plane : planes_) {
      const tmsize_t got = TIFFReadTile(plane.file->get(), plane.raw.data(), static_cast<std::uint32_t>(x),
                                        static_cast<std::uint32_t>(y), 0, static_cast<std::uint16_t>(plane.channel));
      if (got < 0 || !plane.file->complaint().empty()) return damaged(y, plane);
    }
    const int width = static_cast<int>(std::min<std::int64_t>(columns, picture_.width - x));
    const int height = static_cast<int>(std::min<std::int64_t>(rows, picture_.height - y));
    for (int i = 0; i < height; ++i) put_segment(static_cast<int>(x), static_cast<int>(y) + i, width, row_bytes * i);
  }
  return std::nullopt;
}

std::optional<ReadError> TiffDecoder::decode_tiles() {
  TIFF* first = planes_[0].file->get();
  const tmsize_t tile_bytes = TIFFTileSize(first);
  const std::int64_t columns = tag_or<std::uint32_t>(first, TIFFTAG_TILEWIDTH, 0);
  const std::int64_t rows = tag_or<std::uint32_t>(first, TIFFTAG_TILELENGTH, 0);
  const std::int64_t most_side = std::numeric_limits<int>::max();
  if (tile_bytes <= 0 || tile_bytes > max_bytes_ || columns <= 0 || rows <= 0 || columns > most_side ||
      rows > most_side) {
    return ReadError{"too-large", "its tiles need more memory than the limit; save it in strips"};
  }
  for (auto& plane : planes_) plane.raw.resize(tile_bytes);
  for (std::int64_t y = 0; y < picture_.height; y += rows) {
    if (auto error = decode_tile_row(y)) return error;
  }
  return std::nullopt;
}

// A strip or a row of tiles at a time. Told that all is upright, libtiff leaves the pixels where they are.
std::optional<ReadError> TiffDecoder::decode_rgba(std::int64_t rows) {
  TIFF* tiff = planes_[0].file->get();
  TIFFRGBAImage image{};
  std::array<char, 1024> message{};
  if (TIFFRGBAImageBegin(&image, tiff, 1, message.data()) == 0) {
    return unsupported(std::string("its colours are not read (") + message.data() + "); save it as RGB or grey");
  }
  const std::unique_ptr<TIFFRGBAImage, decltype(&TIFFRGBAImageEnd)> ending(&image, TIFFRGBAImageEnd);
  image.orientation = image.req_orientation = ORIENTATION_TOPLEFT;
  const auto width = static_cast<std::uint32_t>(picture_.width);
  std::vector<std::uint32_t> raster(static_cast<std::size_t>(rows) * width);
  std::vector<std::uint8_t> colours(std::size_t{3} * width);
  for (std::int64_t y = 0; y < picture_.height; y += rows) {
    image.row_offset = static_cast<int>(y);
    const auto count = static_cast<std::uint32_t>(std::min<std::int64_t>(rows, picture_.height - y));
    const bool read = TIFFRGBAImageGet(&image, raster.data(), width, count) != 0;
    if (!read || !planes_[0].file->complaint().empty()) return damaged(y, planes_[0]);
    for (std::uint32_t i = 0; i < count; ++i) {
      for (std::size_t x = 0; x < width; ++x) {
        const std::uint32_t pixel = raster[std::size_t{i} * width + x];
        colours[3 * x] = static_cast<std::uint8_t>(TIFFGetR(pixel));
        colours[3 * x + 1] = static_cast<std::uint8_t>(TIFFGetG(pixel));
        colours[3 * x + 2] = static_cast<std::uint8_t>(TIFFGetB(pixel));
      }
      take_channel(interleaved(colours.data(), 3, false, picture_.width, picture_.type), channel_,
                   row_of(picture_, static_cast<int>(y + i)));
    }
  }
  return std::nullopt;
}

std::optional<ReadError> TiffDecoder::decode() {
  for (const auto& plane : planes_) {
    if (plane.file->get() == nullptr) return ReadError{"unreadable", "it changed while it was read; try again"};
  }
  TIFF* first = planes_[0].file->get();
  std::optional<ReadError> error;
  if (layout_.via_rgba) {
    const unsigned tag = layout_.tiled ? TIFFTAG_TILELENGTH : TIFFTAG_ROWSPERSTRIP;
    const std::int64_t rows = tag_or<std::uint32_t>(first, tag, ~0U);
    error = decode_rgba(std::clamp<std::int64_t>(rows, 1, picture_.height));
  } else {
    error = layout_.tiled ? decode_tiles() : decode_rows();
  }
  if (error || !layout_.inverted) return error;
  for (int y = 0; y < picture_.height; ++y) {
    const bool bytes = layout_.type == scale::SampleType::u8;
    (bytes ? invert<std::uint8_t> : invert<std::uint16_t>)(row_of(picture_, y), picture_.width, layout_.top());
  }
  return error;
}

// Rows before the first strip or row of tiles that the file is too short for; its height when it holds all.
std::int64_t rows_in_file(TIFF* tiff, const TiffLayout& layout, std::uintmax_t file_bytes) {
  const bool tiled = layout.tiled;
  const std::int64_t rows = std::clamp<std::int64_t>(
      tag_or<std::uint32_t>(tiff, tiled ? TIFFTAG_TILELENGTH : TIFFTAG_ROWSPERSTRIP, ~0U), 1, layout.height);
  const std::uint32_t count = tiled ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
  const std::int64_t bands = (layout.height + rows - 1) / rows;
  const std::int64_t bands_in_all = bands * (layout.separate ? layout.channels : 1);
  const std::int64_t per_band = std::max<std::int64_t>(1, count / std::max<std::int64_t>(1, bands_in_all));
  std::int64_t whole = layout.height;
  for (std::uint32_t i = 0; i < count; ++i) {
    const std::uint64_t offset = TIFFGetStrileOffset(tiff, i);
    const std::uint64_t bytes = TIFFGetStrileByteCount(tiff, i);
    if (offset <= file_bytes && bytes <= file_bytes - offset) continue;
    whole = std::min(whole, i / per_band % bands * rows);
  }
  return whole;
}

void add_warnings(const TiffLayout& layout, bool opaque, Channel option, Picture& picture) {
  warn_orientation(picture);
  if (!opaque) warn_alpha(picture);
  if (layout.bits == 1) warn_bilevel(picture);
  if (!layout.colour && layout.palette.empty()) warn_if_grey(picture, option);
  if (layout.unread_channels > 0) {
    picture.warnings.push_back({"extra-channels", "channels without a stated meaning were not read: " +
                                                      std::to_string(layout.unread_channels)});
  }
  if (picture.facts.pages > 1) {
    picture.warnings.push_back(
        {"further-pages", "the file has " + std::to_string(picture.facts.pages) + " pages; only the first was read"});
  }
}

}  // namespace

ReadResult read_tiff(Input& input, const ReadOptions& options) {
  TiffFile file(input, options.limits);
  if (file.get() == nullptr) return tl::unexpected(open_failure(input, file));
  const auto layout = layout_of(file.get(), options.channel);
  if (!layout) return tl::unexpected(layout.error());
  const Claim claim{layout->width, layout->height, static_cast<double>(layout->bits) * layout->channels, layout->type,
                    most_expansion(file.get())};
  if (auto error = refuse_claim(claim, input.bytes, options.limits)) return tl::unexpected(*error);
  const std::int64_t whole = rows_in_file(file.get(), *layout, input.bytes);
  if (whole < layout->height) {
    return tl::unexpected(truncated_after_row(static_cast<int>(whole), static_cast<int>(layout->height)));
  }
  const std::optional<int> pages = file.count_pages();
  if (!pages) {
    return tl::unexpected(
        ReadError{"truncated", "its list of pages is cut off (" + file.complaint() + "); export it again"});
  }
  FileFacts facts = tiff_facts(file.get(), input.bytes);
  facts.pages = *pages;
  if (options.header_only) return header_alone(claim, std::move(facts));
  Picture picture = make_picture(claim);
  TiffDecoder decoder(input, options, *layout, picture);
  if (auto error = decoder.decode()) return tl::unexpected(*error);
  picture.facts = std::move(facts);
  if (!decide_white(picture, layout->stated_white)) {
    return tl::unexpected(ReadError{"not-finite", "some samples are NaN or infinite; export it without them"});
  }
  add_warnings(*layout, decoder.opaque(), options.channel, picture);
  return picture;
}

}  // namespace images
