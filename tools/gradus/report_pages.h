// Pages on their way to files: names, pictures beside them or in them, PDF.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "sheet_pictures.h"
#include "sheet_values.h"

namespace gradus {

struct ReportPlan {
  std::string folder;  // empty: no pages
  bool embed = false;  // pictures in the pages
  bool pdf = false;    // each page as PDF too
  bool decimal_comma = false;
  std::string printed_at;  // UTC
  PictureSearch search;
};

// Names of pages without their ending.
inline constexpr const char* kOverviewPage = "index";
inline constexpr const char* kMeasurementPage = "measurement";

// File names without their ending, from what a set-up or an image is called: letters, digits and hyphens, each once.
class PageNames {
 public:
  std::string name_for(const std::string& kind, const std::string& name);

 private:
  std::set<std::string> taken_;
};

// Why the folder cannot be used, in one line; made when missing.
std::string report_folder_problem(const std::string& folder);

// Address of the overview for a page of a run; empty while the folder has none.
std::string home_in(const ReportPlan& plan);

scale::PageStyle page_style(const ReportPlan& plan, const std::string& home);

// Gives `picture` its address: in the page, or of a file STEM.jpg that is written here. The problem, empty when done.
std::string place_picture(DrawnPicture& picture, const std::string& stem, const ReportPlan& plan);

// Writes FOLDER/STEM.html and, when asked, prints it. Problems, one line each.
std::vector<std::string> write_page(const std::string& stem, const std::string& html, const ReportPlan& plan);

}  // namespace gradus
