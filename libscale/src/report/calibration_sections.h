// The parts of the calibration sheet, each from its values to HTML.
#pragma once

#include <string>

#include <scale/calibration_page.h>

#include "report/numbers.h"

namespace scale::report {

bool is_reticle(const CalibrationSheet& sheet);
// "µm/px", or "µm/div" of a reticle.
std::string unit_of(const CalibrationSheet& sheet);

std::string result_section(const CalibrationSheet& sheet, NumberStyle style);
std::string identification_section(const CalibrationSheet& sheet, const PageStyle& page, NumberStyle style);
std::string setup_section(const CalibrationSheet& sheet, NumberStyle style);
std::string scale_section(const CalibrationSheet& sheet, NumberStyle style);
std::string method_section(const CalibrationSheet& sheet);
std::string evidence_sections(const CalibrationSheet& sheet, NumberStyle style);
std::string readings_section(const CalibrationSheet& sheet, NumberStyle style);          // of a reticle read by eye
std::string eyepiece_picture_section(const CalibrationSheet& sheet, NumberStyle style);  // of one from a picture
std::string budget_section(const CalibrationSheet& sheet, NumberStyle style);
std::string history_section(const CalibrationSheet& sheet, NumberStyle style);

// What the laboratory states with the sheet: traceability, what was not examined, conformity with its rule, and which
// contents of a certificate are there (ISO/IEC 17025:2017, 7.8.2, 7.8.4, 7.8.6; the list from a secondary source).
std::string statement_sections(const CalibrationSheet& sheet, const PageStyle& page, NumberStyle style);

// "(0.6902 ± 0.0002) µm/px", as HTML that stays on one line
std::string factor_words(const CalibrationFactor& factor, const std::string& unit, NumberStyle style);

}  // namespace scale::report
