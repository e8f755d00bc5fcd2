#include "measure_pictures.h"

#include <algorithm>
#include <cmath>

#include "canvas.h"
#include "display.h"
#include "measure_csv.h"
#include "text.h"

namespace gradus {
namespace {

constexpr int kMostPixels = 1600, kLeastWidth = 900;  // of a sheet
constexpr int kMargin = 16, kTextLine = 20, kTitleHeight = 42;
constexpr std::size_t kMostListed = 24;

void draw_closed(Display& display, const std::vector<scale::PixelPoint>& outline, const cv::Scalar& ink) {
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const scale::PixelPoint& a = outline[i];
    const scale::PixelPoint& b = outline[(i + 1) % outline.size()];
    canvas::line(display.canvas, display.at(a.x, a.y), display.at(b.x, b.y), ink);
  }
}

// Edges where they were measured, solid; the rest of the way, dashed along the middle.
void draw_fibre(Display& display, const scale::Body& body) {
  for (std::size_t i = 1; i < body.widths.size(); ++i) {
    const scale::LocalWidth& a = body.widths[i - 1];
    const scale::LocalWidth& b = body.widths[i];
    if (!a.used || !b.used) continue;
    canvas::line(display.canvas, display.at(a.left.x, a.left.y), display.at(b.left.x, b.left.y), canvas::kVermillion,
                 2);
    canvas::line(display.canvas, display.at(a.right.x, a.right.y), display.at(b.right.x, b.right.y),
                 canvas::kVermillion, 2);
  }
  for (std::size_t i = 12; i < body.centre.size(); i += 24) {
    const scale::PixelPoint& a = body.centre[i - 12];
    const scale::PixelPoint& b = body.centre[i];
    canvas::line(display.canvas, display.at(a.x, a.y), display.at(b.x, b.y), canvas::kSkyBlue);
  }
}

void draw_across(Display& display, const scale::Body& body) {
  const scale::LocalWidth& width = body.widths.front();
  const cv::Point2d from = display.at(width.left.x, width.left.y), to = display.at(width.right.x, width.right.y);
  canvas::line(display.canvas, from, to, canvas::kVermillion, 2);
  for (const cv::Point2d& end : {from, to}) canvas::cross(display.canvas, end, canvas::kVermillion);
}

void number(Display& display, const scale::Body& body, std::size_t object) {
  const std::string text = std::to_string(object);
  const cv::Size extent = canvas::text_extent(text);
  const cv::Point2d at = display.at(body.at.x, body.at.y);
  canvas::write_rimmed(display.canvas, text, {cvRound(at.x) - extent.width / 2, cvRound(at.y) + extent.height / 2});
}

std::vector<std::string> lines_of(const SpecimenPicture& content, int width) {
  std::vector<std::string> lines;
  if (content.reading->failure) {
    lines.push_back("NOTHING MEASURED: " + canvas::ascii(content.reading->failure->code));
    for (const std::string& line : canvas::wrapped(canvas::ascii(content.reading->failure->message), width))
      lines.push_back(line);
  }
  const auto& bodies = *content.bodies;
  for (std::size_t i = 0; i < std::min(bodies.size(), kMostListed); ++i) {
    const scale::Reported reported = scale::for_report(bodies[i].width_um.value, bodies[i].width_um.expanded());
    lines.push_back(std::to_string(i + 1) + "  " + kind_words(bodies[i].kind) + "  " +
                    fixed(reported.value, reported.decimals) + " +- " + fixed(reported.uncertainty, reported.decimals) +
                    " um  " + canvas::ascii(joined_notes(bodies[i].notes)));
  }
  if (bodies.size() > kMostListed) lines.push_back("and " + std::to_string(bodies.size() - kMostListed) + " more");
  for (const scale::Warning& warning : content.reading->warnings)
    for (const std::string& line : canvas::wrapped(canvas::ascii(warning.code + ": " + warning.message), width))
      lines.push_back(line);
  return lines;
}

}  // namespace

Display draw_bodies(const scale::ImageView& image, const scale::SpecimenReading& reading, int most, int least) {
  Display display = display_of(image, most, least);
  const std::vector<scale::Body>& bodies = reading.bodies;
  for (const scale::Body& body : bodies) {
    if (body.kind == scale::BodyKind::fibre) draw_fibre(display, body);
    if (body.kind == scale::BodyKind::grain)
      draw_closed(display, body.outline, body.at_border ? canvas::kOrange : canvas::kVermillion);
    if (body.kind == scale::BodyKind::across) draw_across(display, body);
  }
  for (std::size_t i = 0; i < bodies.size(); ++i) number(display, bodies[i], i + 1);
  return display;
}

cv::Mat draw_specimen(const SpecimenPicture& content) {
  const Display display = draw_bodies(content.image, *content.reading, kMostPixels, kLeastWidth);
  const int width = std::max(kLeastWidth, display.canvas.cols);
  const std::vector<std::string> lines = lines_of(content, width - 2 * kMargin);
  const int below = kTextLine * static_cast<int>(lines.size()) + 2 * kMargin;
  cv::Mat sheet(kTitleHeight + display.canvas.rows + below, width, CV_8UC3, canvas::kPaper);
  canvas::write(sheet, canvas::ascii(printable(content.title)), {kMargin, 26}, canvas::kTitleSize);
  display.canvas.copyTo(
      sheet(cv::Rect((width - display.canvas.cols) / 2, kTitleHeight, display.canvas.cols, display.canvas.rows)));
  for (std::size_t i = 0; i < lines.size(); ++i)
    canvas::write(sheet, lines[i],
                  {kMargin, kTitleHeight + display.canvas.rows + kMargin + kTextLine * static_cast<int>(i) + 12});
  return sheet;
}

}  // namespace gradus
