// What the readers of the four file types share. Internal.
#pragma once

#include <cstdio>
#include <memory>
#include <optional>
#include <string>

#include "images/read_image.h"

namespace images {

struct CloseFile {
  void operator()(std::FILE* file) const { std::fclose(file); }
};

// An open file; messages made from here on need no path, read_image puts it in front.
struct Input {
  std::unique_ptr<std::FILE, CloseFile> file;
  std::uintmax_t bytes = 0;
};

using ReadResult = tl::expected<Picture, ReadError>;

ReadResult read_png(Input& input, const ReadOptions& options);
ReadResult read_jpeg(Input& input, const ReadOptions& options);
ReadResult read_tiff(Input& input, const ReadOptions& options);
ReadResult read_bmp(Input& input, const ReadOptions& options);

// Deflate cannot expand by more than 1032 (zlib's technical notes), and a Huffman-coded JPEG needs a bit for
// each block of 64 samples, 512 a byte. Anything beyond is a header that lies, or a picture of nothing.
inline constexpr double kMostExpansion = 1040.0;

// What a header claims, before anything is allocated for it.
struct Claim {
  std::int64_t width = 0, height = 0;
  double stored_bits_per_pixel = 0.0;  // unpacked, all channels
  scale::SampleType type = scale::SampleType::u8;
  double most_expansion = kMostExpansion;  // most bytes of pixels that a byte of the file can stand for
};

// Why the claim is not believed or too much for `limits`; nothing when it may be read.
std::optional<ReadError> refuse_claim(const Claim& claim, std::uintmax_t file_bytes, const Limits& limits);

// An empty picture of the claimed size. `claim` must have passed refuse_claim.
Picture make_picture(const Claim& claim);

// The claim and what the file says, without pixels.
Picture header_alone(const Claim& claim, FileFacts facts);

std::byte* row_of(Picture& picture, int y);

ReadError truncated_after_row(int row, int rows);
ReadError damaged_near_row(int row, int rows, const std::string& detail);
ReadError unsupported(const std::string& what);

void warn_orientation(Picture& picture);
void warn_alpha(Picture& picture);
void warn_bilevel(Picture& picture);
// `option` was given for a picture without colours.
void warn_if_grey(Picture& picture, Channel option);

}  // namespace images
