// gradus measure: widths and sizes of the bodies in sample images.
#pragma once

#include <images/read_image.h>
#include <scale/measurement.h>

#include <CLI/App.hpp>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "measure_factor.h"
#include "outputs.h"
#include "report_pages.h"

namespace gradus {

struct AcrossLine {
  scale::PixelPoint from, to;  // of the whole picture
};

inline constexpr int kBand = 11;  // pixels: averages noise, and an edge that stands nearly square stays sharp

struct MeasureOptions {
  std::vector<std::string> images;
  bool recursive = false;
  std::optional<cv::Rect> region;
  images::Channel channel = images::Channel::luminance;
  FactorOptions factor;
  scale::SpecimenOptions specimen;
  std::optional<scale::Micrometres> least_width;
  std::optional<AcrossLine> across;
  std::optional<int> band;  // pixels across that line that are averaged; absent: kBand
  scale::Micrometres edge_shift;
  std::optional<scale::Micrometres> edge_uncertainty;  // standard, for each edge
  std::optional<double> aperture;                      // of the objective, for the default of that
  double gamma = 0.0;                                  // stored = light^(1/gamma); 0: not known
  scale::DistributionOptions distribution;
  OutputPlan output;
  ReportPlan report;
  bool resume = false;
  bool record = false;
  std::string made_by, made_at;
  int jobs = 0;
  bool quiet = false;
};

// Adds the verb to `app`. Parsing fills `options` and touches no file.
CLI::App* setup_measure(CLI::App& app, MeasureOptions& options);

// The exit code: 0, 1 or 2 as in docs/formats.md.
int run_measure(const MeasureOptions& options);

}  // namespace gradus
