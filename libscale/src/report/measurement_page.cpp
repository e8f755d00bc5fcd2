#include <scale/measurement_page.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>
#include <utility>

#include "report/calibration_sections.h"
#include "report/charts.h"
#include "report/html.h"
#include "report/page.h"

namespace scale {
namespace report {
namespace {

constexpr std::size_t kMostClasses = 40;  // in the table; the chart has all

std::string of_sizes(const MeasuredSizes& sizes) {
  return sizes.kind + ": " + sizes.quantity + (sizes.setup.empty() ? "" : ", " + sizes.setup);
}

std::string um(double value, double uncertainty, NumberStyle style) {
  return with_unit(reported(value, uncertainty, style).value, "µm");
}

// Below 2 where what lies between limits is most of it.
double coverage_factor(const SizeDistribution& found) {
  const double standard = std::hypot(found.sampling, found.shared);
  return standard > 0.0 ? found.expanded / standard : 2.0;
}

std::string classes_table(const MeasuredSizes& sizes, NumberStyle style) {
  const std::vector<SizeClass>& classes = sizes.distribution.classes;
  if (classes.empty() || classes.size() > kMostClasses) return "";
  std::vector<Column> columns = {{"Class / µm"}, {"Bodies", true}, {"Share", true}};
  if (!sizes.weighted_by.empty()) columns.push_back({"Share by " + sizes.weighted_by, true});
  const int decimals = classes.front().high - classes.front().low < 0.95 ? 2 : 1;
  // They are whole unless bodies are weighted for the frame.
  const bool whole = std::all_of(classes.begin(), classes.end(),
                                 [](const SizeClass& one) { return one.count == std::floor(one.count); });
  std::vector<std::vector<std::string>> rows;
  for (const SizeClass& one : classes) {
    std::vector<std::string> row = {fixed(one.low, decimals, style) + " to below " + fixed(one.high, decimals, style),
                                    fixed(one.count, whole ? 0 : 1, style), percent(one.share, 1, style)};
    if (!sizes.weighted_by.empty()) row.push_back(percent(one.amount_share, 1, style));
    rows.push_back(std::move(row));
  }
  return table("Classes of " + of_sizes(sizes), columns, rows);
}

std::vector<Fact> distribution_facts(const MeasuredSizes& sizes, double confidence, NumberStyle style) {
  const SizeDistribution& found = sizes.distribution;
  const double step = found.expanded > 0.0 ? found.expanded : found.sd;
  std::vector<Fact> list = {
      {"Bodies", std::to_string(found.count)},
      {"Standard deviation", um(found.sd, step, style)},
      {"Coefficient of variation", percent(found.variation, 1, style)},
      {percent(0.1, 0, style) + ", median, " + percent(0.9, 0, style),
       um(found.d10, step, style) + ", " + um(found.median, step, style) + ", " + um(found.d90, step, style)},
      {"Least and most", um(found.least, step, style) + ", " + um(found.most, step, style)},
      {"Of U, from the scatter of bodies", with_unit("u = " + significant(found.sampling, 2, style), "µm")},
      {"Of U, shared by all bodies", with_unit("u = " + significant(found.shared, 2, style), "µm")},
      {percent(confidence, 0, style) + " interval of the mean, scatter alone",
       with_unit("± " + significant(found.interval_half, 2, style), "µm")}};
  if (!sizes.weighted_by.empty())
    list.push_back({"Weighted by " + sizes.weighted_by,
                    "mean " + um(found.amount_mean, step, style) + ", median " + um(found.amount_median, step, style)});
  if (sizes.left_out > 0) list.push_back({"Left out, cut by the frame", std::to_string(sizes.left_out)});
  if (found.needed) list.push_back({"Bodies needed for the wanted interval", std::to_string(*found.needed)});
  return list;
}

std::string sizes_section(const MeasuredSizes& sizes, std::size_t place, const MeasurementPage& page,
                          NumberStyle style) {
  const std::string heading = of_sizes(sizes);
  const SizeDistribution& found = sizes.distribution;
  if (found.count == 0)
    return section(heading,
                   "<p>No body counts: all " + std::to_string(sizes.left_out) + " are cut by the frame.</p>\n");
  const ReportedText mean = reported(found.mean, found.expanded, style);
  std::string html = "<p class=\"factor\">mean " + with_unit(mean.value, "µm") +
                     "</p>\n<p>U = " + with_unit(mean.uncertainty, "µm") +
                     " (k = " + fixed(coverage_factor(found), 2, style) + "), of the mean of " +
                     counted(static_cast<std::size_t>(found.count), "body", "bodies") + ".</p>\n";
  if (!page.edges_stated)
    html +=
        "<p><b>Not in U:</b> where the true edge of a body lies against the half level; neither the objective’s "
        "aperture "
        "nor an uncertainty of the edges is stated.</p>\n";
  if (!found.classes.empty())
    html += figure(histogram(sizes, "sizes-" + std::to_string(place + 1), style), "Distribution of " + heading,
                   "Share of bodies by number in each class.",
                   sizes.weighted_by.empty()
                       ? std::vector<LegendItem>{}
                       : std::vector<LegendItem>{{line_svg("found"), "share by " + escaped(sizes.weighted_by)}});
  return section(heading,
                 html + facts(distribution_facts(sizes, page.confidence, style)) + classes_table(sizes, style));
}

std::string factor_table(const MeasurementPage& page, NumberStyle style) {
  std::vector<std::vector<std::string>> rows;
  for (const MeasuringFactor& factor : page.factors)
    rows.push_back(
        {factor.setup.empty() ? "from the command line" : foreign(factor.setup),
         factor_words(factor.um_per_pixel, "µm/px", style), factor.stated ? "complete" : "<b>not complete</b>",
         factor.record > 0 ? "record " + std::to_string(factor.record) : "–",
         factor.due.empty()
             ? "not stated"
             : "<span class=\"q\">" + escaped(factor.due) + "</span>" + (factor.overdue ? ", <b>overdue</b>" : "")});
  return table("Factors", {{"Set-up"}, {"Factor", true}, {"Budget"}, {"Calibration"}, {"Due"}}, rows, Narrow::stack);
}

// A note's code as a reader is told; docs/formats.md has the whole meaning.
std::string note_words(const std::string& code) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 12> kWords{
      {{"length-at-least", "length at least, an end is hidden"},
       {"crossed", "crossed by another"},
       {"rimmed", "measured over its rim"},
       {"parted", "cut through a neck"},
       {"necked", "has a neck: may be two that touch"},
       {"bubble-like", "may be a bubble"},
       {"line-inside", "a medulla, or two side by side"},
       {"blur-corrected", "corrected for blur"},
       {"edge-not-stated", "U without the edge"},
       {"factor-not-stated", "U without some of the factor"},
       {"outside-area", "outside the measuring area"},
       {"calibration-overdue", "calibration overdue"}}};
  const auto* found = std::find_if(kWords.begin(), kWords.end(), [&](const auto& one) { return one.first == code; });
  return found == kWords.end() ? escaped(code) : std::string(found->second);
}

std::string notes_of(const MeasuredBody& body) {
  std::string notes;
  for (const std::string& note : body.notes) notes += (notes.empty() ? "" : "; ") + note_words(note);
  return notes;
}

// A size and its U, or two dashes.
void add_size(std::vector<std::string>& row, const std::optional<MeasuredValue>& value, NumberStyle style) {
  const ReportedText text = value ? reported(value->value, value->expanded(), style) : ReportedText{"–", "–"};
  row.push_back(text.value);
  row.push_back(text.uncertainty);
}

// Columns in which nothing stands say nothing: fibres have no area, grains no length.
void leave_out_empty(std::vector<Column>& columns, std::vector<std::vector<std::string>>& rows) {
  for (std::size_t i = columns.size(); i-- > 0;) {
    const auto empty = [&](const std::vector<std::string>& row) { return row[i].empty() || row[i] == "–"; };
    if (!std::all_of(rows.begin(), rows.end(), empty)) continue;
    columns.erase(columns.begin() + static_cast<std::ptrdiff_t>(i));
    for (auto& row : rows) row.erase(row.begin() + static_cast<std::ptrdiff_t>(i));
  }
}

std::string body_table(const MeasurementPage& page, NumberStyle style) {
  if (page.bodies.empty()) return "<p>None.</p>\n";
  std::vector<Column> columns = {{"Picture"},       {"No.", true},         {"Kind"},         {"Width / µm", true},
                                 {"U / µm", true},  {"Length / µm", true}, {"U / µm", true}, {"Area / µm²", true},
                                 {"U / µm²", true}, {"√(4πA)/P", true},    {"Notes"}};
  std::vector<std::vector<std::string>> rows;
  for (const ListedBody& listed : page.bodies) {
    const MeasuredBody& body = listed.body;
    std::vector<std::string> row = {foreign(listed.image), std::to_string(listed.object), escaped(listed.kind)};
    add_size(row, body.width_um, style);
    add_size(row, body.length_um, style);
    add_size(row, body.area_um2, style);
    row.push_back(body.shape ? fixed(body.shape->circularity, 3, style) : "–");
    row.push_back(notes_of(body));
    rows.push_back(std::move(row));
  }
  leave_out_empty(columns, rows);
  std::string html = table("Bodies", columns, rows, Narrow::stack);
  html += "<p class=\"small\">The first " + std::to_string(page.bodies.size()) + " of " +
          std::to_string(page.all_bodies) + ". ";
  html += page.table.empty() ? "No table was written; --csv FILE writes all."
                             : "All are in <a href=\"" + escaped(page.table) + "\">the table</a>.";
  return html + " The width of a grain is its least Feret diameter. A is the area, P the perimeter.</p>\n";
}

std::string pictures(const MeasurementPage& page) {
  if (page.pictures.empty()) return "<p>None.</p>\n";
  std::string html = "<p class=\"small lead\">The first " + std::to_string(page.pictures.size()) + " of " +
                     std::to_string(page.all_images) +
                     ". Numbers are those of the bodies in the table.</p>\n<div class=\"sheet\">";
  for (const PagePicture& one : page.pictures) html += picture(one);
  return html + "</div>\n";
}

std::string refused(const MeasurementPage& page) {
  if (page.all_refused == 0) return "";
  std::string list = "<ul>\n";
  for (const auto& [image, reason] : page.refused) list += "<li>" + foreign(image) + ": " + foreign(reason) + "</li>\n";
  list += "</ul>\n";
  if (page.refused.size() < page.all_refused)
    list += "<p class=\"small\">The first " + std::to_string(page.refused.size()) + " of " +
            std::to_string(page.all_refused) + ".</p>\n";
  return section("Nothing measured", list);
}

std::string words_to_read(const MeasurementPage& page) {
  std::string html =
      "<p>U of a mean holds the scatter of the bodies and what all of them share: factor, edges, grey-level curve. "
      "Only the "
      "scatter becomes smaller with more bodies. Terms follow ISO 9276-6 and ISO 13322-1 as reported.</p>\n"
      "<p>Where a size could hurt somebody, as in counting fibres in air or in medicine, the code that applies and "
      "those licensed to decide go first.</p>\n";
  for (const std::int64_t number : page.records) html += "<p>Recorded as record " + std::to_string(number) + ".</p>\n";
  return html;
}

}  // namespace
}  // namespace report

std::string measurement_page(const MeasurementPage& measurement, const PageStyle& style) {
  using namespace report;
  const NumberStyle numbers = numbers_of(style);
  std::string content = section("Measured", "<p>" + counted(measurement.all_bodies, "body", "bodies") + " in " +
                                                counted(measurement.all_images, "image") + ", " +
                                                escaped(time_words(measurement.measured_at)) + ".</p>\n" +
                                                factor_table(measurement, numbers));
  for (std::size_t i = 0; i < measurement.sizes.size(); ++i)
    content += sizes_section(measurement.sizes[i], i, measurement, numbers);
  content += section("Bodies", body_table(measurement, numbers), true) +
             section("Pictures", pictures(measurement), true) + refused(measurement) +
             section("How to read this", words_to_read(measurement));
  return page({measurement.title, "Measurement",
               place_words(measurement.room, measurement.laboratory, measurement.address), measurement.title},
              content, style);
}

}  // namespace scale
