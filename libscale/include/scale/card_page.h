// The card for the bench: what 1 to 100 divisions of each eyepiece reticle are in micrometres, on A5.
#pragma once

#include <string>
#include <vector>

#include <scale/calibration.h>
#include <scale/report.h>

namespace scale {

struct CardColumn {
  std::string setup, objective;  // "10x, zoom 1.5"
  CalibrationFactor um_per_division;
  std::string calibrated, due;  // days; `due` empty: not stated
  bool overdue = false, budget_complete = true;
  std::int64_t record = 0;
  std::string scale;  // name of the reference
};

struct ReticleCard {
  std::string room, laboratory, address, day;
  std::vector<CardColumn> columns;
  std::vector<std::string> missing;  // set-ups that are not calibrated
};

// Decimals of a column: what 100 divisions deserve by their U (GUM 7.2.6).
int card_decimals(const CardColumn& column);

std::string card_page(const ReticleCard& card, const PageStyle& style);

}  // namespace scale
