#include "images/tiff_layout.h"

#include "images/ome_facts.h"

#include <algorithm>
#include <limits>
#include <span>

#include "images/pixels.h"

namespace images {
namespace {

std::optional<ReadError> refuse_samples(const TiffLayout& layout, int format) {
  const std::string bits = std::to_string(layout.bits) + "-bit ";
  const std::string next = "; save it with 8 or 16 bits, or as 32-bit float";
  if (format == SAMPLEFORMAT_IEEEFP) {
    if (layout.bits != 32 && layout.bits != 64) return unsupported(bits + "float samples are not read" + next);
    if (layout.inverted) return unsupported("float samples with WhiteIsZero name no white" + next);
    return std::nullopt;
  }
  if (format != SAMPLEFORMAT_UINT && format != SAMPLEFORMAT_VOID) {
    return unsupported("signed or complex samples are not read" + next);
  }
  const bool known =
      layout.bits == 1 || layout.bits == 2 || layout.bits == 4 || (layout.bits >= 8 && layout.bits <= 16);
  if (!known) return unsupported(bits + "samples are not read" + next);
  return std::nullopt;
}

std::optional<ReadError> read_photometric(TIFF* tiff, TiffLayout& layout) {
  const int usual = layout.channels >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
  const int photometric = tag_or<std::uint16_t>(tiff, TIFFTAG_PHOTOMETRIC, static_cast<std::uint16_t>(usual));
  switch (photometric) {
    case PHOTOMETRIC_MINISWHITE:
      layout.inverted = true;
      return std::nullopt;
    case PHOTOMETRIC_MINISBLACK:
    case PHOTOMETRIC_PALETTE:
      return std::nullopt;
    case PHOTOMETRIC_RGB:
      layout.colour = true;
      break;
    case PHOTOMETRIC_YCBCR:
      layout.colour = true;
      layout.jpeg_to_rgb = tag_or<std::uint16_t>(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE) == COMPRESSION_JPEG;
      layout.via_rgba = !layout.jpeg_to_rgb;
      if (layout.bits != 8) return unsupported("YCbCr of other than 8 bits is not read; save it as RGB");
      break;
    case PHOTOMETRIC_SEPARATED:
      return unsupported("its colours are printing inks (CMYK); save it as RGB or grey");
    case PHOTOMETRIC_CFA:
      return unsupported("a sensor's raw colour mosaic; develop it to RGB or grey first");
    default:
      return unsupported("colour model " + std::to_string(photometric) + " is not read; save it as RGB or grey");
  }
  if (layout.channels < 3) return ReadError{"corrupt", "a colour picture of fewer than 3 channels; export it again"};
  return std::nullopt;
}

// One channel of the colour map, which has 16-bit entries. Maps of 8-bit colours, times 257 or 256 or (by old
// writers) as they are, give 8-bit samples.
tl::expected<void, ReadError> read_palette(TIFF* tiff, TiffLayout& layout, Channel channel) {
  std::uint16_t* red = nullptr;
  std::uint16_t* green = nullptr;
  std::uint16_t* blue = nullptr;
  if (layout.bits > 8 || TIFFGetField(tiff, TIFFTAG_COLORMAP, &red, &green, &blue) == 0) {
    return tl::unexpected(ReadError{"corrupt", "a palette picture without a palette; export it again"});
  }
  const std::size_t count = std::size_t{1} << layout.bits;
  const std::span<const std::uint16_t> maps[] = {{red, count}, {green, count}, {blue, count}};
  const auto all = [&](auto&& holds) {
    return std::all_of(std::begin(maps), std::end(maps), [&](auto map) { return std::ranges::all_of(map, holds); });
  };
  unsigned divisor = 1;
  if (all([](unsigned v) { return v % 257 == 0; })) {
    divisor = 257;
  } else if (all([](unsigned v) { return v % 256 == 0; })) {
    divisor = 256;
  } else if (!all([](unsigned v) { return v < 256; })) {
    layout.type = scale::SampleType::u16;
  }
  for (std::size_t i = 0; i < count; ++i) {
    const unsigned r = red[i] / divisor;
    const unsigned g = green[i] / divisor;
    const unsigned b = blue[i] / divisor;
    const unsigned value = channel == Channel::red     ? r
                           : channel == Channel::green ? g
                           : channel == Channel::blue  ? b
                                                       : luminance(r, g, b);
    layout.palette.push_back(static_cast<std::uint16_t>(value));
  }
  return {};
}

void read_extra_channels(TIFF* tiff, TiffLayout& layout) {
  const int wanted = layout.colour ? 3 : 1;
  std::uint16_t count = 0;
  std::uint16_t* meanings = nullptr;
  if (TIFFGetField(tiff, TIFFTAG_EXTRASAMPLES, &count, &meanings) == 0) count = 0;
  for (int i = 0; i < count && wanted + i < layout.channels && layout.alpha < 0; ++i) {
    if (meanings[i] != EXTRASAMPLE_UNSPECIFIED) layout.alpha = wanted + i;
  }
  layout.unread_channels = layout.channels - wanted - (layout.alpha < 0 ? 0 : 1);
}

scale::SampleType type_of(const TiffLayout& layout) {
  if (layout.floating) return scale::SampleType::f32;
  return layout.bits > 8 ? scale::SampleType::u16 : scale::SampleType::u8;
}

// Tag 281 says 65535 in many files of cameras of fewer bits, so only less is news. WhiteIsZero is inverted at the
// full range, and then no largest sample tells how many bits the camera has.
std::optional<unsigned> stated_white(TIFF* tiff, const TiffLayout& layout) {
  if (layout.inverted || layout.bits < 16) return layout.top();
  const unsigned largest = tag_or<std::uint16_t>(tiff, TIFFTAG_MAXSAMPLEVALUE, 0);
  if (largest > 0 && largest < 65535U) return largest;
  return std::nullopt;
}

const char* unit_name(std::uint16_t unit) {
  switch (unit) {
    case RESUNIT_INCH:
      return "per inch";
    case RESUNIT_CENTIMETER:
      return "per centimetre";
    default:
      return "none";
  }
}

std::string text_tag(TIFF* tiff, unsigned tag) {
  const char* text = tag_or<const char*>(tiff, tag, nullptr);
  return text == nullptr ? "" : text;
}

const char* colour_model(int photometric) {
  switch (photometric) {
    case PHOTOMETRIC_RGB:
      return "rgb";
    case PHOTOMETRIC_PALETTE:
      return "palette";
    case PHOTOMETRIC_YCBCR:
      return "ycbcr";
    default:
      return "grey";
  }
}

}  // namespace

unsigned TiffLayout::top() const { return bits <= 8 ? 255U : (1U << bits) - 1U; }

tl::expected<TiffLayout, ReadError> layout_of(TIFF* tiff, Channel channel) {
  if ((tag_or<std::uint32_t>(tiff, TIFFTAG_SUBFILETYPE, 0) & FILETYPE_REDUCEDIMAGE) != 0) {
    return tl::unexpected(
        unsupported("its first page is a reduced copy of another, and its pixels are not the "
                    "camera's; export the full picture alone"));
  }
  TiffLayout layout;
  layout.width = tag_or<std::uint32_t>(tiff, TIFFTAG_IMAGEWIDTH, 0);
  layout.height = tag_or<std::uint32_t>(tiff, TIFFTAG_IMAGELENGTH, 0);
  layout.bits = tag_or<std::uint16_t>(tiff, TIFFTAG_BITSPERSAMPLE, 1);
  layout.channels = tag_or<std::uint16_t>(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  layout.separate = tag_or<std::uint16_t>(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) == PLANARCONFIG_SEPARATE;
  layout.tiled = TIFFIsTiled(tiff) != 0;
  const int format = tag_or<std::uint16_t>(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
  layout.floating = format == SAMPLEFORMAT_IEEEFP;
  if (auto error = read_photometric(tiff, layout)) return tl::unexpected(*error);
  if (auto error = refuse_samples(layout, format)) return tl::unexpected(*error);
  const int compression = tag_or<std::uint16_t>(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  if (TIFFIsCODECConfigured(static_cast<std::uint16_t>(compression)) == 0) {
    return tl::unexpected(unsupported("TIFF compression " + std::to_string(compression) +
                                      " is not read; save it uncompressed, with LZW or deflate"));
  }
  layout.type = type_of(layout);
  if (tag_or<std::uint16_t>(tiff, TIFFTAG_PHOTOMETRIC, 0) == PHOTOMETRIC_PALETTE) {
    if (auto palette = read_palette(tiff, layout, channel); !palette) return tl::unexpected(palette.error());
  }
  read_extra_channels(tiff, layout);
  layout.stated_white = stated_white(tiff, layout);
  return layout;
}

FileFacts tiff_facts(TIFF* tiff, std::uintmax_t file_bytes) {
  FileFacts facts;
  facts.format = TIFFIsBigTIFF(tiff) != 0 ? "BigTIFF" : "TIFF";
  facts.file_bytes = file_bytes;
  facts.bits_per_sample = tag_or<std::uint16_t>(tiff, TIFFTAG_BITSPERSAMPLE, 1);
  facts.channels = tag_or<std::uint16_t>(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  const int usual = facts.channels >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
  facts.colour_model =
      colour_model(tag_or<std::uint16_t>(tiff, TIFFTAG_PHOTOMETRIC, static_cast<std::uint16_t>(usual)));
  const int orientation = tag_or<std::uint16_t>(tiff, TIFFTAG_ORIENTATION, 1);
  facts.orientation = orientation >= 1 && orientation <= 8 ? orientation : 1;
  const auto x = static_cast<double>(tag_or<float>(tiff, TIFFTAG_XRESOLUTION, 0.0F));
  const auto y = static_cast<double>(tag_or<float>(tiff, TIFFTAG_YRESOLUTION, 0.0F));
  const char* unit = unit_name(tag_or<std::uint16_t>(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH));
  if (x > 0.0 && y > 0.0) facts.resolution.push_back({"TIFF", x, y, unit});
  facts.make = text_tag(tiff, TIFFTAG_MAKE);
  facts.model = text_tag(tiff, TIFFTAG_MODEL);
  facts.taken = text_tag(tiff, TIFFTAG_DATETIME);
  read_ome(text_tag(tiff, TIFFTAG_IMAGEDESCRIPTION), facts);
  return facts;
}

double most_expansion(TIFF* tiff) {
  switch (tag_or<std::uint16_t>(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE)) {
    case COMPRESSION_PACKBITS:
      return 64.0;  // two bytes for a run of 128
    case COMPRESSION_LZW:
      return 4096.0 * 8.0 / 9.0;  // a code has 9 bits or more, its string at most 4096 bytes
    case COMPRESSION_NONE:        // its strips are looked for one by one
    case COMPRESSION_DEFLATE:
    case COMPRESSION_ADOBE_DEFLATE:
    case COMPRESSION_JPEG:
      return kMostExpansion;
    default:
      return std::numeric_limits<double>::infinity();
  }
}

}  // namespace images
