#include "file_statement.h"

#include <scale/register.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <span>

#include "text.h"

namespace gradus {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kInchUm = 25400.0;
// Values that programs write when they know nothing: screens, printers, scanners. None tells a pixel on a specimen.
constexpr std::array<double, 21> kPrinting{50,  60,  72,  75,  90,  96,  100, 120, 144, 150, 180,
                                           200, 220, 240, 250, 300, 350, 360, 400, 600, 1200};
// Rounded to whole pixels per centimetre a resolution of 72 per inch becomes 28, off by 1.3 %.
constexpr double kRounded = 0.015;

double um_per_unit(const std::string& unit) {
  if (unit == "per inch") return kInchUm;
  if (unit == "per centimetre") return 1e4;
  return unit == "per metre" ? 1e6 : 0.0;
}

// OME's names of lengths; those that are no physical length ("pixel", "reference frame") give 0.
double micrometres_in(const std::string& unit) {
  static const std::map<std::string, double> kUnits = {{"pm", 1e-6}, {"nm", 1e-3}, {"µm", 1.0},
                                                       {"μm", 1.0},  {"um", 1.0},  {"mm", 1e3},
                                                       {"cm", 1e4},  {"m", 1e6},   {"in", 25400.0}};
  const auto found = kUnits.find(unit);
  return found == kUnits.end() ? 0.0 : found->second;
}

bool is_printing(double per_inch) {
  return std::any_of(kPrinting.begin(), kPrinting.end(),
                     [&](double usual) { return std::abs(per_inch / usual - 1.0) < kRounded; });
}

void add_resolution(scale::FileStatement& statement, const images::ResolutionTag& tag) {
  const double unit = um_per_unit(tag.unit);
  if (unit == 0.0 || !(tag.x > 0.0) || !(tag.y > 0.0)) return;
  const double x = unit / tag.x, y = unit / tag.y;
  if (is_printing(kInchUm / x) && is_printing(kInchUm / y))
    statement.ignored.push_back(tag.source + " resolution of " + fixed(kInchUm / x, 0) + " dpi");
  else
    statement.pixels.push_back({tag.source, x, y});
}

void add_pixel_size(scale::FileStatement& statement, const images::PixelSize& size) {
  const double unit = micrometres_in(size.unit);
  if (unit > 0.0) statement.pixels.push_back({"OME", size.x * unit, size.y * unit});
}

// "2x2" of OME; nothing for binnings that differ along x and y.
std::optional<int> binning_of(const std::string& text) {
  int x = 0, y = 0;
  const char* const end = text.data() + text.size();
  const auto first = std::from_chars(text.data(), end, x);
  if (first.ec != std::errc{} || first.ptr == end || *first.ptr != 'x') return std::nullopt;
  const auto second = std::from_chars(first.ptr + 1, end, y);
  return second.ec == std::errc{} && second.ptr == end && x == y && x > 0 ? std::optional(x) : std::nullopt;
}

std::optional<std::array<int, 2>> sides(const std::optional<images::SizeInPixels>& size) {
  if (!size) return std::nullopt;
  return std::array<int, 2>{size->width, size->height};
}

}  // namespace

scale::FileStatement statement_of(const images::Picture& picture) {
  const images::FileFacts& facts = picture.facts;
  scale::FileStatement statement;
  statement.width = picture.width;
  statement.height = picture.height;
  for (const images::ResolutionTag& tag : facts.resolution) add_resolution(statement, tag);
  if (facts.pixel_size) add_pixel_size(statement, *facts.pixel_size);
  statement.camera = facts.make + (facts.make.empty() || facts.model.empty() ? "" : " ") + facts.model;
  statement.magnification = facts.magnification;
  statement.binning = binning_of(facts.binning);
  statement.original_size = sides(facts.original);
  statement.thumbnail_size = sides(facts.thumbnail);
  statement.bits = facts.bits_per_sample;
  statement.channels = facts.channels;
  return statement;
}

void look_for_rescaling(scale::FileStatement& statement, const images::Picture& picture, scale::Trace trace) {
  if (picture.samples.size() == 0) return;
  statement.rescaling_looked_for = true;
  statement.rescaling = scale::find_rescaling(picture.view(), trace);
}

Json statement_json(const scale::FileStatement& statement) {
  Json json = {{"bits", statement.bits}, {"channels", statement.channels}};
  Json pixels = Json::array();
  for (const scale::StatedPixel& pixel : statement.pixels)
    pixels.push_back({{"source", pixel.source}, {"x_um", pixel.x_um}, {"y_um", pixel.y_um}});
  if (!pixels.empty()) json["pixels"] = pixels;
  if (!statement.camera.empty()) json["camera"] = valid_utf8(statement.camera);
  if (statement.magnification) json["magnification"] = *statement.magnification;
  if (statement.binning) json["binning"] = *statement.binning;
  if (statement.original_size) json["original_size"] = *statement.original_size;
  if (statement.thumbnail_size) json["thumbnail_size"] = *statement.thumbnail_size;
  if (statement.rescaling_looked_for) json["rescaling"] = statement.rescaling;
  return json;
}

scale::FileStatement statement_of(const nlohmann::json& json, int width, int height) {
  scale::FileStatement statement;
  statement.width = width;
  statement.height = height;
  if (!json.is_object()) return statement;
  statement.bits = json.value("bits", 0);
  statement.channels = json.value("channels", 0);
  for (const auto& pixel : json.value("pixels", nlohmann::json::array()))
    statement.pixels.push_back({pixel.at("source"), pixel.at("x_um"), pixel.at("y_um")});
  statement.camera = json.value("camera", "");
  if (json.contains("magnification")) statement.magnification = json["magnification"].get<double>();
  if (json.contains("binning")) statement.binning = json["binning"].get<int>();
  if (json.contains("original_size")) statement.original_size = json["original_size"].get<std::array<int, 2>>();
  if (json.contains("thumbnail_size")) statement.thumbnail_size = json["thumbnail_size"].get<std::array<int, 2>>();
  statement.rescaling_looked_for = json.contains("rescaling");
  if (statement.rescaling_looked_for) statement.rescaling = json["rescaling"].get<std::vector<double>>();
  return statement;
}

std::string taken_at(const images::FileFacts& facts) {
  std::string time = facts.taken;
  if (time.size() != 19 || time[4] != ':' || time[7] != ':' || time[10] != ' ') return "";
  time[4] = time[7] = '-';
  time[10] = 'T';
  time += 'Z';
  return scale::is_utc_time(time) ? time : "";
}

}  // namespace gradus
