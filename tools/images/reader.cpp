#include "images/reader.h"

#include <new>

namespace images {
namespace {

constexpr std::size_t kCacheLine = 64;

std::string size_text(const Claim& claim) {
  return std::to_string(claim.width) + " x " + std::to_string(claim.height) + " pixels";
}

}  // namespace

SampleBuffer::SampleBuffer(std::size_t bytes) : size_(bytes) {
  const std::size_t rounded = (bytes + kCacheLine - 1) / kCacheLine * kCacheLine;
  bytes_.reset(static_cast<std::byte*>(std::aligned_alloc(kCacheLine, rounded)));
  if (!bytes_) throw std::bad_alloc();
}

std::size_t sample_bytes(scale::SampleType type) {
  switch (type) {
    case scale::SampleType::u8:
      return 1;
    case scale::SampleType::u16:
      return 2;
    case scale::SampleType::f32:
      break;
  }
  return 4;
}

scale::ImageView Picture::view() const {
  return {samples.data(), width, height, static_cast<std::ptrdiff_t>(sample_bytes(type)) * width, type, white};
}

std::optional<ReadError> refuse_claim(const Claim& claim, std::uintmax_t file_bytes, const Limits& limits) {
  if (claim.width <= 0 || claim.height <= 0) {
    return ReadError{"corrupt", "its header claims " + size_text(claim) + "; export it again"};
  }
  if (claim.width > limits.max_side || claim.height > limits.max_side) {
    return ReadError{"too-large", "its header claims " + size_text(claim) + ", more than the limit of " +
                                      std::to_string(limits.max_side) + " a side; crop the picture"};
  }
  if (claim.width * claim.height > limits.max_pixels) {
    return ReadError{"too-large", "its header claims " + size_text(claim) + ", more than the limit of " +
                                      std::to_string(limits.max_pixels) + " in all; crop the picture"};
  }
  const auto pixels = static_cast<double>(claim.width * claim.height);
  if (pixels * claim.stored_bits_per_pixel / 8.0 > claim.most_expansion * static_cast<double>(file_bytes)) {
    return ReadError{"implausible", "its header claims " + size_text(claim) + ", which " + std::to_string(file_bytes) +
                                        " bytes cannot hold; export it again"};
  }
  if (pixels * static_cast<double>(sample_bytes(claim.type)) > static_cast<double>(limits.max_bytes)) {
    return ReadError{"too-large", size_text(claim) + " need more memory than the limit of " +
                                      std::to_string(limits.max_bytes) + " bytes; crop the picture"};
  }
  return std::nullopt;
}

Picture make_picture(const Claim& claim) {
  Picture picture;
  picture.width = static_cast<int>(claim.width);
  picture.height = static_cast<int>(claim.height);
  picture.type = claim.type;
  picture.samples = SampleBuffer(static_cast<std::size_t>(claim.width * claim.height) * sample_bytes(claim.type));
  return picture;
}

Picture header_alone(const Claim& claim, FileFacts facts) {
  Picture picture;
  picture.width = static_cast<int>(claim.width);
  picture.height = static_cast<int>(claim.height);
  picture.type = claim.type;
  picture.facts = std::move(facts);
  return picture;
}

std::byte* row_of(Picture& picture, int y) {
  return picture.samples.data() + static_cast<std::size_t>(y) * picture.width * sample_bytes(picture.type);
}

ReadError truncated_after_row(int row, int rows) {
  return {"truncated",
          "truncated after row " + std::to_string(row) + " of " + std::to_string(rows) + "; export it again"};
}

ReadError damaged_near_row(int row, int rows, const std::string& detail) {
  return {"corrupt", "damaged near row " + std::to_string(row) + " of " + std::to_string(rows) + " (" + detail +
                         "); export it again"};
}

ReadError unsupported(const std::string& what) { return {"unsupported", what}; }

void warn_orientation(Picture& picture) {
  if (picture.facts.orientation == 1) return;
  picture.warnings.push_back({"orientation-tag", "the file asks for orientation " +
                                                     std::to_string(picture.facts.orientation) +
                                                     "; it was read as stored, so x and y are the sensor's"});
}

void warn_alpha(Picture& picture) {
  picture.warnings.push_back(
      {"alpha-ignored", "some pixels are transparent; their hidden colours were read, as if they were opaque"});
}

void warn_bilevel(Picture& picture) {
  picture.warnings.push_back({"bilevel",
                              "the picture knows black and white only, nothing finer than a pixel can be read; "
                              "save the camera's grey values instead"});
}

void warn_if_grey(Picture& picture, Channel option) {
  if (option == Channel::luminance) return;
  picture.warnings.push_back({"channel-ignored", "a colour channel was asked for and the picture is grey"});
}

}  // namespace images
