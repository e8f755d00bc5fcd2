// Where results go: standard output, whole files, a folder of pictures.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "inputs.h"
#include "pictures.h"

namespace gradus {

struct OutputPlan {
  std::string json, csv;  // files; "-" is standard output, empty is none
  std::string pictures;   // folder; empty is none
};

// Why the plan cannot be carried out, in one line; empty when it can. Found before any image is read, so that
// nobody waits for a folder to be told so. Makes the folder of pictures, and leaves no other trace.
std::string output_problem(const OutputPlan& plan, const InputList& inputs);

// Writes `text` to the file, whole or not at all, or to standard output for "-". Why that failed, in one line;
// empty when done.
std::string deliver(const std::string& target, const std::string& text);

// Writes what `draw` gives (8-bit BGR) as PNG; the problem in one line, empty when done.
std::string write_sheet(const std::function<cv::Mat()>& draw, const std::string& path);

// Draws and writes one picture; the problem in one line, empty when done.
std::string write_picture(const PictureContent& content, const std::string& path);

}  // namespace gradus
