#include "report_pages.h"

#include <images/output_file.h>
#include <openssl/evp.h>
#include <unistd.h>

#include <filesystem>

#include "print_pdf.h"

namespace gradus {
namespace {

namespace fs = std::filesystem;

std::string base64(const std::string& bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const int length =
      EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                      reinterpret_cast<const unsigned char*>(bytes.data()), static_cast<int>(bytes.size()));
  text.resize(static_cast<std::size_t>(length));
  return text;
}

std::string in_folder(const ReportPlan& plan, const std::string& name) {
  return (fs::path(plan.folder) / name).string();
}

}  // namespace

std::string PageNames::name_for(const std::string& kind, const std::string& name) {
  constexpr std::size_t kMost = 80;
  std::string stem = kind;
  bool gap = true;
  for (const char character : name) {
    const bool capital = character >= 'A' && character <= 'Z';
    const bool plain = capital || (character >= 'a' && character <= 'z') || (character >= '0' && character <= '9');
    if (plain && gap) stem += '-';
    if (plain) stem += capital ? static_cast<char>(character - 'A' + 'a') : character;
    gap = !plain;
    if (stem.size() >= kMost) break;
  }
  std::string unique = stem;
  for (int number = 2; !taken_.insert(unique).second; ++number) unique = stem + "-" + std::to_string(number);
  return unique;
}

std::string report_folder_problem(const std::string& folder) {
  std::error_code failure;
  fs::create_directories(folder, failure);
  if (failure) return folder + ": the folder cannot be made, " + failure.message() + "; choose another for --report";
  if (access(folder.c_str(), W_OK | X_OK) != 0)
    return folder + ": no permission to write in it; choose another for --report";
  return "";
}

std::string home_in(const ReportPlan& plan) {
  const std::string name = std::string(kOverviewPage) + ".html";
  std::error_code ignored;
  return fs::exists(in_folder(plan, name), ignored) ? name : "";
}

scale::PageStyle page_style(const ReportPlan& plan, const std::string& home) {
  return {plan.decimal_comma, plan.printed_at, "gradus " GRADUS_VERSION, home};
}

std::string place_picture(DrawnPicture& picture, const std::string& stem, const ReportPlan& plan) {
  if (picture.jpeg.empty()) return "";
  if (plan.embed) {
    picture.page.source = "data:image/jpeg;base64," + base64(picture.jpeg);
    return "";
  }
  const std::string name = stem + ".jpg";
  const auto written = images::write_whole(in_folder(plan, name), picture.jpeg);
  if (written) {
    picture.page.source = name;
    return "";
  }
  picture.page.missing = "it could not be written";
  return written.error().message;
}

std::vector<std::string> write_page(const std::string& stem, const std::string& html, const ReportPlan& plan) {
  const std::string path = in_folder(plan, stem + ".html");
  if (const auto written = images::write_whole(path, html); !written) return {written.error().message};
  if (!plan.pdf) return {};
  const std::string problem = print_pdf(path, in_folder(plan, stem + ".pdf"));
  return problem.empty() ? std::vector<std::string>{} : std::vector<std::string>{problem};
}

}  // namespace gradus
