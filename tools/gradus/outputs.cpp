#include "outputs.h"

#include <images/output_file.h>
#include <images/write_png.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iostream>

namespace gradus {
namespace {

namespace fs = std::filesystem;

constexpr const char* kStandardOutput = "-";

bool is_file_name(const std::string& target) { return !target.empty() && target != kStandardOutput; }

// A device or a pipe takes bytes as they come; a new file put in its place would break what others use.
bool is_stream(const std::string& target) {
  std::error_code ignored;
  const fs::file_status status = fs::status(target, ignored);
  return fs::exists(status) && !fs::is_regular_file(status) && !fs::is_directory(status);
}

bool permits(const fs::path& path, int mode) { return access(path.c_str(), mode) == 0; }

std::string folder_problem(const fs::path& folder, const std::string& target) {
  std::error_code ignored;
  if (!fs::is_directory(folder, ignored))
    return target + ": cannot be written, there is no folder " + folder.string() + "; make it first";
  if (!permits(folder, W_OK | X_OK))
    return target + ": cannot be written, no permission in the folder " + folder.string() + "; choose another";
  return "";
}

std::string file_problem(const std::string& target, const InputList& inputs) {
  std::error_code ignored;
  if (fs::is_directory(target, ignored)) return target + ": is a folder; name a file in it";
  if (is_stream(target)) return permits(target, W_OK) ? "" : target + ": no permission to write to it; choose another";
  if (fs::exists(target, ignored) && !permits(target, W_OK))
    return target + ": exists and may not be overwritten; choose another name";
  const std::size_t count = fs::exists(target, ignored) ? inputs.size() : 0;
  for (std::size_t i = 0; i < count; ++i)
    if (fs::equivalent(target, inputs.path(i), ignored)) return target + ": is one of the images; choose another name";
  const fs::path folder = fs::path(target).parent_path();
  return folder_problem(folder.empty() ? "." : folder, target);
}

std::string pictures_problem(const std::string& folder, const InputList& inputs) {
  std::error_code failure;
  fs::create_directories(folder, failure);
  if (failure) return folder + ": the folder cannot be made, " + failure.message() + "; choose another for --pictures";
  if (!permits(folder, W_OK | X_OK)) return folder + ": no permission to write in it; choose another for --pictures";
  for (std::size_t i = 0; i < inputs.size(); ++i)
    if (fs::equivalent(fs::path(folder) / inputs.picture_name(i), inputs.path(i), failure))
      return inputs.path(i) + ": would be overwritten by a picture; choose another folder for --pictures";
  return "";
}

bool same_target(const std::string& one, const std::string& other) {
  std::error_code ignored;
  return !one.empty() && (one == other || fs::path(one).lexically_normal() == fs::path(other).lexically_normal() ||
                          (is_file_name(one) && !is_stream(one) && fs::equivalent(one, other, ignored)));
}

std::string write_stream(std::ostream& stream, const std::string& text, const std::string& name) {
  stream << text << std::flush;
  return stream ? "" : name + ": could not be written; is the disk full or the reader gone?";
}

}  // namespace

std::string output_problem(const OutputPlan& plan, const InputList& inputs) {
  if (same_target(plan.json, plan.csv)) return plan.json + ": JSON and CSV cannot go to one place; choose two";
  for (const std::string& target : {plan.json, plan.csv}) {
    if (!is_file_name(target)) continue;
    if (std::string problem = file_problem(target, inputs); !problem.empty()) return problem;
  }
  return plan.pictures.empty() ? "" : pictures_problem(plan.pictures, inputs);
}

std::string deliver(const std::string& target, const std::string& text) {
  if (target == kStandardOutput) return write_stream(std::cout, text, "standard output");
  if (is_stream(target)) {
    std::ofstream stream(target, std::ios::binary);
    return write_stream(stream, text, target);
  }
  const auto written = images::write_whole(target, text);
  return written ? "" : written.error().message;
}

std::string write_sheet(const std::function<cv::Mat()>& draw, const std::string& path) {
  try {
    const cv::Mat sheet = draw();
    const images::ColourView view{sheet.data, sheet.cols, sheet.rows, static_cast<std::ptrdiff_t>(sheet.step), true};
    const auto written = images::write_png(path, view);
    return written ? "" : written.error().message;
  } catch (const std::exception& error) {
    return path + ": could not be drawn (" + error.what() + "); try a --region";
  }
}

std::string write_picture(const PictureContent& content, const std::string& path) {
  return write_sheet([&] { return draw_picture(content); }, path);
}

}  // namespace gradus
