// What the tests of pictures ask: samples, warnings, errors.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "images/read_image.h"

namespace picture_checks {

inline double sample_at(const images::Picture& picture, std::size_t i) {
  const std::byte* data = picture.samples.data();
  switch (picture.type) {
    case scale::SampleType::u8:
      return static_cast<double>(std::to_integer<int>(data[i]));
    case scale::SampleType::u16:
      return static_cast<double>(reinterpret_cast<const std::uint16_t*>(data)[i]);
    case scale::SampleType::f32:
      break;
  }
  return static_cast<double>(reinterpret_cast<const float*>(data)[i]);
}

// Largest difference of any sample; infinity when the number of samples differs.
inline double worst_difference(const images::Picture& picture, const std::vector<double>& expected) {
  const auto count = static_cast<std::size_t>(picture.width) * picture.height;
  if (count != expected.size() || count * images::sample_bytes(picture.type) != picture.samples.size()) {
    return std::numeric_limits<double>::infinity();
  }
  double worst = 0.0;
  for (std::size_t i = 0; i < count; ++i) worst = std::max(worst, std::abs(sample_at(picture, i) - expected[i]));
  return worst;
}

// One channel of interleaved samples.
inline std::vector<double> channel_of(const std::vector<double>& samples, int channels, int channel) {
  std::vector<double> one;
  for (std::size_t i = channel; i < samples.size(); i += channels) one.push_back(samples[i]);
  return one;
}

// Luminance by ITU-R BT.601-7, 2.5.1, not rounded: a rounded sample differs by at most a half.
inline std::vector<double> luminance_of(const std::vector<double>& samples, int channels) {
  std::vector<double> one;
  for (std::size_t i = 0; i + 2 < samples.size(); i += channels) {
    one.push_back(0.299 * samples[i] + 0.587 * samples[i + 1] + 0.114 * samples[i + 2]);
  }
  return one;
}
constexpr double kRounding = 0.5 + 1e-9;

inline images::Picture read(const std::string& path, images::Channel channel = images::Channel::luminance) {
  images::ReadOptions options;
  options.channel = channel;
  auto picture = images::read_image(path, options);
  if (!picture) FAIL(picture.error().code << ": " << picture.error().message);
  return std::move(*picture);
}

// The code of the error; empty when the picture was read.
inline std::string error_code(const std::string& path, const images::ReadOptions& options = {}) {
  const auto picture = images::read_image(path, options);
  return picture ? "" : picture.error().code;
}

inline std::string error_message(const std::string& path) {
  const auto picture = images::read_image(path);
  return picture ? "" : picture.error().message;
}

// The two rows that the message of a truncated file names; -1 when it is another message.
inline std::pair<int, int> truncated_after(const std::string& path) {
  const std::string message = error_message(path);
  int row = -1;
  int rows = -1;
  const std::string prefix = path + ": ";
  const bool whole = message.starts_with(prefix) && message.ends_with("; export it again");
  if (whole) std::sscanf(message.c_str() + prefix.size(), "truncated after row %d of %d", &row, &rows);
  return {row, rows};
}

inline std::string warning_codes(const images::Picture& picture) {
  std::string codes;
  for (const auto& warning : picture.warnings) codes += (codes.empty() ? "" : " ") + warning.code;
  return codes;
}

}  // namespace picture_checks
