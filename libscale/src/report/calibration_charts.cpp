#include <algorithm>
#include <cmath>

#include "report/charts.h"
#include "report/html.h"

namespace scale::report {
namespace {

constexpr int kWidthOfMap = 720;

std::string direction_words(char direction) {
  return direction == 'x' ? "along x of the picture" : "along y of the picture";
}

// Peak of the spectrum beyond the light that changes slowly over the field.
double highest(const LineProfile& profile) {
  double most = 0.0;
  for (std::size_t i = 0; i < profile.frequency.size(); ++i)
    if (profile.frequency[i] > 0.3 / profile.pitch_px) most = std::max(most, profile.amplitude[i]);
  return most > 0.0 ? most : 1.0;
}

std::vector<std::pair<double, double>> pairs(const std::vector<double>& x, const std::vector<double>& y) {
  std::vector<std::pair<double, double>> points;
  for (std::size_t i = 0; i < std::min(x.size(), y.size()); ++i) points.emplace_back(x[i], y[i]);
  return points;
}

}  // namespace

std::string residual_chart(const RulingResiduals& residuals, double most_um, const std::string& id, NumberStyle style) {
  double low = 0.0, high = 1.0;
  if (!residuals.points.empty()) {
    const auto [first, last] =
        std::minmax_element(residuals.points.begin(), residuals.points.end(),
                            [](const auto& a, const auto& b) { return a.position_um < b.position_um; });
    low = first->position_um, high = last->position_um;
  }
  const auto left_out = std::count_if(residuals.points.begin(), residuals.points.end(),
                                      [](const ResidualPoint& point) { return !point.used; });
  const std::string description =
      counted(residuals.points.size(), "graduation") + " " + direction_words(residuals.direction) + ", " +
      std::to_string(left_out) + " left out of the fit; the axis reaches " + fixed(most_um, 2, style) +
      " µm to both sides" + (residuals.certified.empty() ? "." : "; certified deviations for comparison.");
  Chart chart(
      {id, "Residuals of " + residuals.name + ", " + direction_words(residuals.direction), description}, 190,
      number_axis(residuals.numbered ? "nominal place on the scale / µm" : "from the first graduation seen / µm", low,
                  high, 10, style),
      number_axis("deviation / µm", -most_um, most_um, 5, style));
  chart.level(0.0, "zero");
  std::vector<std::pair<double, double>> certified;
  for (const Correction& row : residuals.certified) certified.emplace_back(row.position.value, row.deviation.value);
  if (!certified.empty()) chart.path(certified, "certified line");
  for (const auto& [x, y] : certified) chart.mark(Mark::diamond, x, y, "certified");
  for (const ResidualPoint& point : residuals.points) {
    const double at = std::clamp(point.deviation_um, -most_um, most_um);
    const double reach = 2.0 * point.uncertainty_um;
    if (point.used)
      chart.upright(point.position_um, std::max(-most_um, at - reach), std::min(most_um, at + reach), "bar");
    chart.mark(point.used ? Mark::disc : Mark::cross, point.position_um, at, point.used ? "measured" : "left-out");
  }
  return chart.svg();
}

std::string readings_chart(const SheetReadings& readings, const std::string& id, NumberStyle style) {
  double low = 0.0, high = 1.0, most = 1e-3;
  for (const SheetReading& reading : readings.list) {
    low = std::min(low, reading.place_um), high = std::max(high, reading.place_um);
    if (reading.used) most = std::max(most, std::abs(reading.residual_um) + 2.0 * reading.uncertainty_um);
  }
  const auto left_out = std::count_if(readings.list.begin(), readings.list.end(),
                                      [](const SheetReading& reading) { return !reading.used; });
  Chart chart({id, "Readings off their line",
               counted(readings.list.size(), "reading") + ", " + std::to_string(left_out) +
                   " left out; the axis reaches " + fixed(most, 2, style) + " µm to both sides."},
              190, number_axis("nominal place on the scale / µm", low, high, 10, style),
              number_axis("off the line / µm", -most, most, 5, style));
  chart.level(0.0, "zero");
  for (const SheetReading& reading : readings.list) {
    const double at = std::clamp(reading.residual_um, -most, most), reach = 2.0 * reading.uncertainty_um;
    if (reading.used) chart.upright(reading.place_um, std::max(-most, at - reach), std::min(most, at + reach), "bar");
    chart.mark(reading.used ? Mark::disc : Mark::cross, reading.place_um, at, reading.used ? "measured" : "left-out");
  }
  return chart.svg();
}

std::string profile_chart(const LineProfile& profile, const std::string& id, NumberStyle style) {
  const auto [dark, bright] = std::minmax_element(profile.grey.begin(), profile.grey.end());
  Chart chart(
      {id, "Profile of " + profile.name + ", " + direction_words(profile.direction),
       "Mean grey value along the axis of the ruling, from " + fixed(*dark, 0, style) + " to " +
           fixed(*bright, 0, style) + "; the found pitch is " + fixed(profile.pitch_px, 3, style) + " pixels."},
      170,
      number_axis("position along the axis / px", profile.position_px.front(), profile.position_px.back(), 10, style),
      number_axis("grey value", *dark, *bright, 4, style));
  chart.path(pairs(profile.position_px, profile.grey), "trace");
  return chart.svg();
}

std::string spectrum_chart(const LineProfile& profile, const std::string& id, NumberStyle style) {
  const double found = 1.0 / profile.pitch_px, top = highest(profile);
  Chart chart({id, "Spectrum of " + profile.name + ", " + direction_words(profile.direction),
               "Amplitude of the profile against frequency. The line marks the found pitch of " +
                   fixed(profile.pitch_px, 3, style) + " pixels, " + significant(found, 4, style) + " per pixel."},
              170, number_axis("frequency / (1/px)", 0.0, profile.frequency.back(), 8, style, true),
              number_axis("amplitude", 0.0, 1.12 * top, 4, style, true));
  chart.plumb(found, "found");
  std::vector<std::pair<double, double>> points = pairs(profile.frequency, profile.amplitude);
  for (auto& point : points) point.second = std::min(point.second, chart.y_axis().high);
  chart.path(points, "trace");
  const bool right = found < 0.6 * profile.frequency.back();
  chart.words(found, chart.y_axis().high, "found pitch " + fixed(profile.pitch_px, 3, style) + " px", right ? 's' : 'e',
              right ? 6.0 : -6.0, 12.0);
  return chart.svg();
}

std::string local_scale_map(std::span<const LocalScale> places, int width, int height, const std::string& id,
                            NumberStyle style) {
  double most = 0.0;
  for (const LocalScale& place : places) most = std::max(most, std::abs(place.deviation));
  const int drawn_height = std::clamp(kWidthOfMap * height / std::max(1, width) + 60, 200, 440);
  Axis x = number_axis("x / px", 0.0, width, 8, style), y = number_axis("y / px", 0.0, height, 6, style);
  x.low = 0.0, x.high = width;
  y.low = height, y.high = 0.0;  // downwards, as pixels count
  Chart chart({id, "Local scale over the field",
               counted(places.size(), "place") + " of the field; the local factor departs from the mean by at most " +
                   fixed(1000.0 * most, 2, style) + " parts per thousand."},
              drawn_height, x, y, Keep::shape);
  for (const LocalScale& place : places) {
    // Sign by shape, size of the departure by the number; what its uncertainty explains is drawn open.
    const bool clear = std::abs(place.deviation) > 2.0 * place.uncertainty;
    const char* look = !clear ? "unclear" : place.deviation > 0.0 ? "above" : "below";
    chart.mark(!clear                  ? Mark::ring
               : place.deviation > 0.0 ? Mark::triangle
                                       : Mark::square,
               place.x_px, place.y_px, look);
    chart.words(place.x_px, place.y_px, signed_fixed(1000.0 * place.deviation, 2, style), 'm', 0.0,
                place.direction == 'x' ? -8.0 : 19.0, clear ? Room::any : Room::broad);
  }
  return chart.svg();
}

std::string share_bar(double share) {
  const std::string wide = coordinate(100.0 * std::clamp(share, 0.0, 1.0));
  return "<svg class=\"share\" viewBox=\"0 0 100 10\" preserveAspectRatio=\"none\" aria-hidden=\"true\"><rect "
         "width=\"" +
         wide + "\" height=\"10\"/><path d=\"M0 0V10M100 0V10\"/></svg>";
}

}  // namespace scale::report
