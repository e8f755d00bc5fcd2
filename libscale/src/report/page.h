// The frame that all pages share: head, style sheet, masthead, foot.
#pragma once

#include <string>

#include <scale/report.h>

#include "report/numbers.h"

namespace scale::report {

struct PageFrame {
  std::string title;  // of the page
  std::string kind;   // "Calibration of a set-up"
  std::string place;  // room and laboratory
  std::string foot;   // identification at the foot of every printed page
  std::string css{};  // rules of this page alone
};

// `content` is HTML.
std::string page(const PageFrame& frame, const std::string& content, const PageStyle& style);

NumberStyle numbers_of(const PageStyle& style);

// "wool room, an invented laboratory"; what is empty is left out.
std::string place_words(const std::string& room, const std::string& laboratory, const std::string& address);

// A picture with its caption, or the labelled gap where it should be.
std::string picture(const PagePicture& picture);

// The rules of the style sheet that every page carries.
const char* style_sheet();

}  // namespace scale::report
