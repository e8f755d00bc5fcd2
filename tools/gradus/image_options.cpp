#include "image_options.h"

#include <algorithm>
#include <charconv>
#include <map>

namespace gradus {
namespace {

cv::Rect parse_region(const std::string& text) {
  int numbers[4] = {};
  const char* at = text.data();
  const char* const end = text.data() + text.size();
  bool good = true;
  for (int i = 0; i < 4 && good; ++i) {
    const auto [stop, error] = std::from_chars(at, end, numbers[i]);
    good = error == std::errc{} && (i == 3 ? stop == end : stop != end && *stop == ',');
    at = good && i < 3 ? stop + 1 : stop;
  }
  const cv::Rect region(numbers[0], numbers[1], numbers[2], numbers[3]);
  constexpr int kMostSide = 1'000'000;  // beyond any picture, and small enough for sums
  good = good && region.x >= 0 && region.y >= 0 && region.width > 0 && region.height > 0 &&
         std::max({region.x, region.y, region.width, region.height}) <= kMostSide;
  if (!good)
    throw CLI::ValidationError("--region", "'" + text + "' is no X,Y,W,H in pixels; write it like 0,200,1280,300");
  return region;
}

}  // namespace

void add_image_arguments(CLI::App& verb, std::vector<std::string>& images, bool& recursive) {
  verb.add_option("IMAGES", images, "Image files, and folders of them in name order")->type_name("")->required();
  verb.add_flag("--recursive", recursive, "Also folders below the folders");
}

void add_channel_option(CLI::App& verb, images::Channel& channel) {
  const std::map<std::string, images::Channel> channels = {{"luminance", images::Channel::luminance},
                                                           {"red", images::Channel::red},
                                                           {"green", images::Channel::green},
                                                           {"blue", images::Channel::blue}};
  verb.add_option_function<std::string>(
          "--channel", [&channel, channels](const std::string& name) { channel = channels.at(name); },
          "Colour to look at: luminance (default), red, green or blue")
      ->type_name("NAME")
      ->check(CLI::IsMember({"luminance", "red", "green", "blue"}).description(""));
}

void add_image_options(CLI::App& verb, ImageOptions options) {
  add_image_arguments(verb, options.images, options.recursive);
  verb.add_option_function<std::string>(
          "--region", [&region = options.region](const std::string& text) { region = parse_region(text); },
          "Look only there: left, top, width and height in pixels")
      ->type_name("X,Y,W,H");
  add_channel_option(verb, options.channel);
}

}  // namespace gradus
