// Options that every verb with images has: which images, which part of them, which colour.
#pragma once

#include <images/read_image.h>

#include <CLI/CLI.hpp>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

namespace gradus {

struct ImageOptions {
  std::vector<std::string>& images;  // files and folders
  bool& recursive;
  std::optional<cv::Rect>& region;
  images::Channel& channel;
};

// What is parsed goes where these point; that must outlive the parsing.
void add_image_arguments(CLI::App& verb, std::vector<std::string>& images, bool& recursive);
void add_channel_option(CLI::App& verb, images::Channel& channel);
// Both of them, and --region.
void add_image_options(CLI::App& verb, ImageOptions options);

}  // namespace gradus
