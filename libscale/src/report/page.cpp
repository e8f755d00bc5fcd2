#include "report/page.h"

#include "report/html.h"

namespace scale::report {
namespace {

// What a page may load: its own pictures and nothing else, so that opening it asks no network.
constexpr const char* kPolicy = "default-src 'none'; img-src 'self' file: data:; style-src 'unsafe-inline'";

// The masthead's line: graduations of a hundred divisions, long ones at every tenth.
std::string graduations() {
  std::string d;
  for (int n = 0; n <= 100; ++n) {
    const int length = n % 10 == 0 ? 14 : n % 5 == 0 ? 10 : 6;
    d += "M" + std::to_string(4 + 7 * n) + " 16v-" + std::to_string(length);
  }
  return "<svg class=\"scale\" viewBox=\"0 0 708 16\" preserveAspectRatio=\"none\" aria-hidden=\"true\"><path d=\"" +
         d + "\"/></svg>\n";
}

std::string print_rules(const std::string& foot) {
  return "@page{margin:14mm 14mm 17mm;@bottom-left{content:" + css_string(foot, 400) +
         ";font:7.5pt system-ui,sans-serif;color:#444}@bottom-right{content:\"page \" counter(page) \" of \" "
         "counter(pages);font:7.5pt system-ui,sans-serif;color:#444}}\n";
}

}  // namespace

std::string page(const PageFrame& frame, const std::string& content, const PageStyle& style) {
  std::string html = "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n";
  html += "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
  html += std::string("<meta http-equiv=\"Content-Security-Policy\" content=\"") + kPolicy + "\">\n";
  html += "<link rel=\"icon\" href=\"data:,\">\n";
  html += "<title>" + escaped(frame.title) + " – " + escaped(frame.kind) + "</title>\n";
  html += "<style>\n" + std::string(style_sheet()) + print_rules(frame.foot) + frame.css +
          "</style>\n</head>\n<body>\n<header>\n";
  if (!style.home.empty()) html += "<nav><a href=\"" + escaped(style.home) + "\">All set-ups of the room</a></nav>\n";
  html += graduations() + "<p class=\"kind\">" + escaped(frame.kind) + "</p>\n<h1>" + foreign(frame.title) + "</h1>\n";
  if (!frame.place.empty()) html += "<p class=\"place\">" + foreign(frame.place) + "</p>\n";
  html += "</header>\n<main>\n" + content +
          "</main>\n<footer><p>Not for diagnosis or regulated counting without validation. Made " +
          escaped(time_words(style.printed_at)) + " by " + escaped(style.tool) +
          ". End of this page’s contents.</p></footer>\n</body>\n</html>\n";
  return html;
}

NumberStyle numbers_of(const PageStyle& style) { return {style.decimal_comma}; }

std::string place_words(const std::string& room, const std::string& laboratory, const std::string& address) {
  std::string words;
  for (const std::string& part : {room, laboratory, address})
    if (!part.empty()) words += (words.empty() ? "" : ", ") + part;
  return words;
}

std::string picture(const PagePicture& picture) {
  if (picture.source.empty())
    return "<figure><p class=\"gap\">No picture: " + foreign(picture.missing) + "</p><figcaption>" +
           foreign(picture.caption) + "</figcaption></figure>\n";
  return "<figure><img src=\"" + escaped(picture.source) + "\" width=\"" + std::to_string(picture.width) +
         "\" height=\"" + std::to_string(picture.height) + "\" alt=\"" + escaped(picture.description) +
         "\"><figcaption>" + foreign(picture.caption) + "</figcaption></figure>\n";
}

}  // namespace scale::report
