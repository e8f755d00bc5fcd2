#include "pictures.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <opencv2/imgproc.hpp>

#include <scale/quantity_text.h>
#include <scale/uncertainty.h>

#include "budget_table.h"
#include "canvas.h"
#include "overlay.h"
#include "residual_strip.h"
#include "text.h"

namespace gradus {
namespace {

constexpr int kMostPixels = 1600;  // of either side on the display: what a screen shows whole
constexpr int kLeastWidth = 900;   // narrower and the words of the strip would not fit
constexpr int kTitleHeight = 42;
constexpr int kTextLine = 20;
constexpr int kMargin = 16;

void draw_region(Display& display, const PictureContent& content) {
  const cv::Rect& region = content.region;
  if (region == cv::Rect(0, 0, content.image.width, content.image.height)) return;
  const cv::Point2d a = display.at(region.x - 0.5, region.y - 0.5);
  const cv::Point2d b = display.at(region.br().x - 0.5, region.br().y - 0.5);
  for (const auto& [from, to] : {std::pair{a, cv::Point2d{b.x, a.y}}, std::pair{cv::Point2d{b.x, a.y}, b},
                                 std::pair{b, cv::Point2d{a.x, b.y}}, std::pair{cv::Point2d{a.x, b.y}, a}})
    canvas::dashed_line(display.canvas, from, to, canvas::kOrange, 2);
}

std::string factor_line(const scale::CalibrationFactor& factor, const std::string& unit, const std::string& remark) {
  const scale::Reported reported = scale::for_report(factor.value, factor.expanded_uncertainty);
  return fixed(reported.value, reported.decimals) + unit + ", U = " + fixed(reported.uncertainty, reported.decimals) +
         " (k = " + fixed(factor.coverage_factor, 2) + ")" + remark;
}

std::vector<std::string> factor_lines(const PictureContent& content) {
  std::vector<std::string> lines;
  if (content.reticle != nullptr) {
    const std::string missing = component_names(content.reticle->budget, false);
    lines.push_back(factor_line(content.reticle->um_per_division, " um per reticle division",
                                missing.empty() ? "" : ", not in U: " + missing));
  } else {
    const bool complete = content.calibration->budget_complete;
    lines.push_back(factor_line(content.calibration->um_per_pixel, " um/px",
                                complete ? "" : ", without the uncertainty of the reference scale"));
  }
  for (const scale::Ruling& ruling : content.reading->rulings) {
    const auto used = std::count_if(ruling.graduations.begin(), ruling.graduations.end(),
                                    [](const scale::Graduation& graduation) { return graduation.used; });
    std::string words = scale::counted(static_cast<std::size_t>(used), "graduation") + " along " +
                        fixed(scale::degrees(ruling.direction), 2) + " deg, pitch " + fixed(ruling.pitch_px, 3) + " px";
    if (content.reticle != nullptr)
      words.insert(0, &ruling == &content.reading->rulings[0]
                          ? "micrometer: "
                          : "reticle (" + second_ink_name(ruling) + ", numbers with r): ");
    const bool some_left = !ruling.rejected.empty() || static_cast<std::size_t>(used) < ruling.graduations.size();
    if (some_left) words += "; dashed: lines not used";
    lines.push_back(words);
  }
  return lines;
}

std::vector<std::string> header_lines(const PictureContent& content) {
  if (content.calibration != nullptr) return factor_lines(content);
  return {"REFUSED: " + canvas::ascii(content.reading->failure->code)};
}

std::string attempt_words(const scale::Reading& reading) {
  const std::size_t lines = reading.lines_seen.size();
  std::string words = lines == 0 ? "No line was followed" : "Dashed: " + scale::counted(lines, "line") + " seen";
  if (reading.directions_tried_deg.empty()) return words + "; no direction stood out.";
  words += "; arrows: directions tried,";
  for (const double angle : reading.directions_tried_deg) words += ' ' + fixed(angle, 1);
  return words + " deg.";
}

// The reason in words, where a calibrated picture has its residuals.
std::vector<std::string> refusal_lines(const PictureContent& content, int width) {
  const scale::Failure& failure = *content.reading->failure;
  std::vector<std::string> lines = canvas::wrapped(canvas::ascii(failure.message), width);
  lines.push_back("Stage reached: " + canvas::ascii(failure.stage) + ".");
  for (const std::string& line : canvas::wrapped(attempt_words(*content.reading), width)) lines.push_back(line);
  return lines;
}

void draw_overlay(Display& display, const PictureContent& content) {
  draw_region(display, content);
  const std::vector<scale::Ruling>& rulings = content.reading->rulings;
  for (std::size_t i = 0; i < rulings.size(); ++i)
    draw_ruling(display, rulings[i], {}, content.reticle != nullptr ? kEyepieceMarks.at(i) : "");
  for (std::size_t i = 0; i < rulings.size(); ++i)
    draw_direction(display, rulings[i], static_cast<int>(i), content.reticle != nullptr ? kEyepieceNames.at(i) : "");
  if (content.calibration == nullptr) draw_attempt(display, *content.reading);
}

void draw_header(cv::Mat& sheet, const std::string& title, const std::vector<std::string>& lines) {
  canvas::write(sheet, canvas::ascii(printable(title)), {kMargin, 26}, canvas::kTitleSize);
  for (std::size_t i = 0; i < lines.size(); ++i)
    canvas::write(sheet, lines[i], {kMargin, 49 + kTextLine * static_cast<int>(i)});
}

}  // namespace

cv::Mat draw_picture(const PictureContent& content) {
  Display display = display_of(content.image, kMostPixels, kLeastWidth);
  draw_overlay(display, content);
  const int width = std::max(kLeastWidth, display.canvas.cols);
  const bool refused = content.calibration == nullptr;
  const auto words = refused ? refusal_lines(content, width - 2 * kMargin) : std::vector<std::string>{};
  const int below = refused ? kTextLine * static_cast<int>(words.size()) + 2 * kMargin
                            : kStripHeight * static_cast<int>(content.reading->rulings.size());
  const auto head = header_lines(content);
  const int head_height = kTitleHeight + kTextLine * static_cast<int>(head.size());
  cv::Mat sheet(head_height + display.canvas.rows + below, width, CV_8UC3, canvas::kPaper);
  draw_header(sheet, content.title, head);
  display.canvas.copyTo(
      sheet(cv::Rect((width - display.canvas.cols) / 2, head_height, display.canvas.cols, display.canvas.rows)));
  int top = head_height + display.canvas.rows;
  for (std::size_t i = 0; !refused && i < content.reading->rulings.size(); ++i, top += kStripHeight)
    draw_residual_strip(sheet.rowRange(top, top + kStripHeight), content.reading->rulings[i],
                        content.calibration->axes[i].um_per_pixel,
                        content.reticle != nullptr ? kEyepieceNames.at(i) : "");
  for (std::size_t i = 0; i < words.size(); ++i)
    canvas::write(sheet, words[i], {kMargin, top + kMargin + kTextLine * static_cast<int>(i) + 12});
  return sheet;
}

std::string plain_picture_name(const std::string& image) {
  std::string stem;
  for (const auto& part : std::filesystem::path(image).lexically_normal()) {
    if (part.empty() || part == "/") continue;
    if (!stem.empty()) stem += '_';
    stem += part == ".." ? "up" : part.string();
  }
  // Names of files end at 255 bytes; the end of a path tells more than its beginning.
  constexpr std::size_t kMostBytes = 200;
  if (stem.size() > kMostBytes) stem.erase(0, stem.size() - kMostBytes);
  while (!stem.empty() && (static_cast<unsigned char>(stem[0]) & 0xC0U) == 0x80U) stem.erase(0, 1);
  return stem + ".png";
}

std::string PictureNames::name_for(const std::string& image) {
  const std::string plain = plain_picture_name(image);
  std::string name = plain;
  for (int number = 2; !taken_.insert(name).second; ++number)
    name = plain.substr(0, plain.rfind('.')) + '-' + std::to_string(number) + ".png";
  return name;
}

}  // namespace gradus
