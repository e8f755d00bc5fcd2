// How the pixels of a TIFF page are stored. Internal.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "images/tiff_file.h"

namespace images {

struct TiffLayout {
  std::int64_t width = 0, height = 0;
  int bits = 0;
  int channels = 0;       // samples of a pixel, as decoded
  bool colour = false;    // the first three channels are red, green, blue
  bool separate = false;  // each channel in a plane of its own
  bool tiled = false;
  bool floating = false;
  bool inverted = false;                           // WhiteIsZero
  bool jpeg_to_rgb = false;                        // YCbCr in JPEG compression, which libtiff is to turn into RGB
  bool via_rgba = false;                           // subsampled YCbCr that only libtiff's RGBA interface unpacks
  int alpha = -1;                                  // channel that holds alpha; -1: none
  int unread_channels = 0;                         // further channels without a meaning
  std::vector<std::uint16_t> palette;              // the chosen channel of each index; empty: no palette
  scale::SampleType type = scale::SampleType::u8;  // of what is read
  std::optional<unsigned> stated_white;            // largest value that the file itself names, for 16 bits

  // Largest sample after unpacking.
  unsigned top() const;
};

// The layout of the open page, or why it is not read.
tl::expected<TiffLayout, ReadError> layout_of(TIFF* tiff, Channel channel);

// All but the number of pages.
FileFacts tiff_facts(TIFF* tiff, std::uintmax_t file_bytes);

// Most bytes that one byte of the page's compression can stand for; infinity when there is no bound.
double most_expansion(TIFF* tiff);

}  // namespace images
