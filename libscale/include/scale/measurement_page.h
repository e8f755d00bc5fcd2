// The page of a measurement: distributions with their classes, bodies, pictures with outlines.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <scale/measurement.h>
#include <scale/report.h>

namespace scale {

struct MeasuringFactor {
  std::string setup;  // empty: from the command line
  CalibrationFactor um_per_pixel;
  bool stated = true;       // its uncertainty is known
  std::int64_t record = 0;  // of the calibration; 0: none
  std::string due;          // day; empty: not stated
  bool overdue = false;
};

struct MeasuredSizes {
  std::string setup, kind, quantity;
  std::string weighted_by;  // "length", "area", or empty
  int left_out = 0;         // bodies that the frame cuts, where that matters
  SizeDistribution distribution;
};

struct ListedBody {
  std::string image, kind;
  std::size_t object = 0;  // number in the picture and the table
  MeasuredBody body;
};

struct MeasurementPage {
  std::string title;
  std::string room, laboratory, address;
  std::string measured_at;  // UTC
  std::vector<MeasuringFactor> factors;
  std::vector<MeasuredSizes> sizes;
  double confidence = 0.95;        // of the interval of a mean
  bool edges_stated = true;        // the uncertainty of the edges is in U
  std::vector<ListedBody> bodies;  // the first ones
  std::size_t all_bodies = 0, all_images = 0;
  std::string table;                                         // relative address of the CSV; empty: none was written
  std::vector<PagePicture> pictures;                         // the first ones
  std::vector<std::pair<std::string, std::string>> refused;  // image, reason; the first ones
  std::size_t all_refused = 0;
  std::vector<std::int64_t> records;  // written of this run
};

std::string measurement_page(const MeasurementPage& measurement, const PageStyle& style);

}  // namespace scale
