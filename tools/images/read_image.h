// Reads an image file, whole or not at all.
//
// The type is told by the first bytes, never by the name: PNG, JPEG, TIFF (classic and BigTIFF) and BMP.
// Memory: the one channel asked for, plus a few rows or one tile; a progressive JPEG also its coefficients.
// Safe to call from many threads at once. Nothing is ever printed.
#pragma once

#include <cstdint>
#include <string>
#include <tl/expected.hpp>

#include "images/picture.h"

namespace images {

enum class Channel { luminance, red, green, blue };

struct Limits {
  std::int64_t max_pixels = 200'000'000;
  int max_side = 65'535;
  std::int64_t max_bytes = std::int64_t{1} << 30;  // the samples, and again the buffers a decoder needs
};

struct ReadOptions {
  Channel channel = Channel::luminance;
  // Size and facts without pixels: the picture's samples are empty, and damage among the pixels goes unseen.
  bool header_only = false;
  Limits limits;
};

// Cause and next step where nothing has the name that was given.
inline constexpr const char* kNoSuchFile = "no such file; check the name";

// `code` is one of
//   missing, folder, unreadable, empty      there is no file to read
//   not-an-image                            none of the four types
//   too-large, implausible                  more than the limits; more than so few bytes can hold
//   truncated, corrupt                      the file is not whole, or damaged
//   unsupported, not-finite                 a kind that is not read, for the reason given; NaN or infinity
// `message` is one line: the path, the cause, the next step.
struct ReadError {
  std::string code;
  std::string message;
};

// Warnings on the picture: alpha-ignored, bilevel, channel-ignored, extra-channels, further-pages,
// orientation-tag.
[[nodiscard]] tl::expected<Picture, ReadError> read_image(const std::string& path, const ReadOptions& options = {});

}  // namespace images
