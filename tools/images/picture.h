// A picture as read from a file: one channel of samples, and what the file says of itself.
//
// Samples are as stored: no orientation, no gamma, no colour management. 8-bit data stay 8-bit, 9- to 16-bit
// data are std::uint16_t, float data (32 or 64 bits) are float. A colour picture gives one channel: luminance
// 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601), rounded to the nearest sample, or one of its colours.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <scale/failure.h>
#include <scale/image.h>

namespace images {

// Bytes that are not cleared before a decoder fills them: clearing costs as much as some decoding.
class SampleBuffer {
 public:
  SampleBuffer() = default;
  // Aligned to a cache line. Throws std::bad_alloc.
  explicit SampleBuffer(std::size_t bytes);
  std::byte* data() { return bytes_.get(); }
  const std::byte* data() const { return bytes_.get(); }
  std::size_t size() const { return size_; }

 private:
  struct Free {
    void operator()(std::byte* bytes) const { std::free(bytes); }
  };
  std::unique_ptr<std::byte[], Free> bytes_;
  std::size_t size_ = 0;
};

// A resolution the file states, as stored; nothing is converted and nothing is believed.
struct ResolutionTag {
  std::string source;  // "TIFF", "PNG pHYs", "JFIF", "Exif", "BMP"
  double x = 0.0, y = 0.0;
  std::string unit;  // "per inch", "per centimetre", "per metre", "none" (an aspect ratio only)
};

// The size of a pixel on the specimen, as OME-XML states it.
struct PixelSize {
  double x = 0.0, y = 0.0;
  std::string unit;  // as written; "µm" when not stated
};

struct SizeInPixels {
  int width = 0, height = 0;
};

struct FileFacts {
  std::string format;  // "PNG", "JPEG", "TIFF", "BigTIFF", "BMP"
  std::uintmax_t file_bytes = 0;
  int bits_per_sample = 0;   // as stored
  int channels = 0;          // samples of a pixel as stored, alpha and further ones included
  std::string colour_model;  // "grey", "rgb", "ycbcr", "palette"
  int pages = 1;
  int orientation = 1;  // Exif or TIFF tag 274; recorded, never applied
  std::vector<ResolutionTag> resolution;
  std::string make, model;  // camera as named by Exif or TIFF tags 271 and 272; empty when not stated
  std::optional<PixelSize> pixel_size;
  std::optional<double> magnification;    // nominal, of the objective, by OME-XML
  std::string binning;                    // by OME-XML, "2x2"; empty when not stated
  std::optional<SizeInPixels> original;   // Exif: what the camera wrote
  std::optional<SizeInPixels> thumbnail;  // Exif: of the small picture inside
  std::string taken;                // Exif or TIFF, "2026:02:28 09:30:00" of the camera's clock; empty: not stated
  std::optional<int> jpeg_quality;  // see jpeg_quality.h
  std::string white_reason;         // how Picture::white was decided
};

struct Picture {
  SampleBuffer samples;  // height rows of width samples, without gaps
  int width = 0, height = 0;
  scale::SampleType type = scale::SampleType::u8;
  double white = 255.0;  // largest value the camera could write; float: the largest sample
  FileFacts facts;
  std::vector<scale::Warning> warnings;

  scale::ImageView view() const;
};

// Bytes of one sample.
std::size_t sample_bytes(scale::SampleType type);

}  // namespace images
