// The charts of the pages, each from its values to SVG.
#pragma once

#include <span>
#include <string>

#include <scale/calibration_page.h>
#include <scale/measurement_page.h>
#include <scale/overview_page.h>

#include "report/chart.h"

namespace scale::report {

// Deviation of every graduation from an even division, bars of two standard uncertainties, certified deviations.
// `most_um` is what the vertical axis reaches to both sides, so that several charts can be compared.
std::string residual_chart(const RulingResiduals& residuals, double most_um, const std::string& id, NumberStyle style);

// How far each reading of a reticle lies from the line, bars of two standard uncertainties.
std::string readings_chart(const SheetReadings& readings, const std::string& id, NumberStyle style);

// Mean grey value along the axis of the ruling.
std::string profile_chart(const LineProfile& profile, const std::string& id, NumberStyle style);

// Amplitude against frequency, the frequency of the found pitch marked.
std::string spectrum_chart(const LineProfile& profile, const std::string& id, NumberStyle style);

// The frame of the picture with the local factor's departure from the mean, in parts per thousand, where it was seen.
std::string local_scale_map(std::span<const LocalScale> places, int width, int height, const std::string& id,
                            NumberStyle style);

// Every calibration of the set-up with its U.
std::string history_chart(std::span<const HistoryPoint> history, const std::string& unit, const std::string& id,
                          NumberStyle style);

// Share of each class by number as bars; by length or area, where that is asked for, as a dashed outline.
std::string histogram(const MeasuredSizes& sizes, const std::string& id, NumberStyle style);

// Checks in a line of text: relative changes in the order of time.
std::string sparkline(std::span<const SparkPoint> points, const std::string& id, NumberStyle style);

// A bar of `share` (0 to 1) of its width; the number stands beside it.
std::string share_bar(double share);

// Sign of a state: told apart by shape.
std::string state_sign(SetupState state);

}  // namespace scale::report
