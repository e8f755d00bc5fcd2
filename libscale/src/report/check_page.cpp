#include <scale/check_page.h>

#include <algorithm>
#include <cmath>

#include "report/charts.h"
#include "report/html.h"
#include "report/page.h"

namespace scale {
namespace report {
namespace {

// Of those that are in order; all others are always listed.
constexpr std::size_t kMostInOrder = 200;

std::string verdict_words(Verdict verdict) {
  const std::string word = " <b>" + std::string(name_of(verdict)) + "</b>";
  switch (verdict) {
    case Verdict::within:
      return mark_svg(Mark::disc, "sign good") + word;
    case Verdict::drifted:
      return mark_svg(Mark::cross, "sign crossed") + word;
    case Verdict::mismatch:
      return mark_svg(Mark::square, "sign bad") + word;
    case Verdict::unverifiable:
      return mark_svg(Mark::ring, "sign open") + word;
  }
  return word;
}

bool wrong(const CheckedImage& image) {
  return image.verdict == Verdict::drifted || image.verdict == Verdict::mismatch;
}

std::string evidence_list(const std::vector<Evidence>& evidence) {
  std::string html = "<ul class=\"evidence\">";
  for (const Evidence& one : evidence) html += "<li>" + sentence(one.message) + "</li>";
  return html + "</ul>";
}

std::vector<std::string> cells(const CheckedImage& image, NumberStyle style) {
  const auto share = [&](const std::optional<double>& value) {
    return value ? with_unit(signed_fixed(100.0 * *value, 3, style), "%") : std::string("–");
  };
  std::string evidence = evidence_list(image.evidence);
  if (!image.looks_like.empty()) evidence = "<p><b>Looks like</b> " + foreign(image.looks_like) + "</p>" + evidence;
  const std::string day = image.taken_at.empty() ? "" : "<br>" + escaped(image.taken_at.substr(0, 10));
  return {foreign(image.image) + "<br><span class=\"small\">" + foreign(image.setup) + day + "</span>",
          "<span class=\"q\">" + verdict_words(image.verdict) + "</span>",
          share(image.relative_change),
          image.expanded_uncertainty ? percent(*image.expanded_uncertainty, 3, style) : "–",
          image.en ? fixed(*image.en, std::abs(*image.en) < 100.0 ? 2 : 0, style) : "–",
          evidence};
}

std::string image_table(const CheckPage& check, bool of_wrong, NumberStyle style) {
  std::vector<std::vector<std::string>> rows;
  std::size_t all = 0;
  for (const CheckedImage& image : check.images) {
    if (wrong(image) != of_wrong) continue;
    if (++all <= kMostInOrder || of_wrong) rows.push_back(cells(image, style));
  }
  if (rows.empty()) return "<p>None.</p>\n";
  const std::string label = of_wrong ? "Images that do not carry their scale" : "Other images";
  std::string html = table(label, {{"Image"}, {"Verdict"}, {"Change", true}, {"U", true}, {"En", true}, {"Evidence"}},
                           rows, Narrow::stack);
  if (rows.size() < all)
    html += "<p class=\"small\">The first " + std::to_string(rows.size()) + " of " + std::to_string(all) + ".</p>\n";
  return html;
}

std::string setup_table(const CheckPage& check) {
  std::vector<std::vector<std::string>> rows;
  for (const SetupChecks& setup : check.setups) {
    std::vector<std::string> row = {
        foreign(setup.setup), setup.calibration ? "record " + std::to_string(*setup.calibration) : "not calibrated"};
    for (const std::size_t count : setup.count) row.push_back(std::to_string(count));
    row.push_back(setup.last_good.empty() ? "–"
                                          : "<span class=\"q\">" + escaped(setup.last_good.substr(0, 10)) + "</span>");
    rows.push_back(std::move(row));
  }
  return table("Verdicts by set-up",
               {{"Set-up"},
                {"Held against"},
                {"within", true},
                {"drifted", true},
                {"mismatch", true},
                {"unverifiable", true},
                {check.checked_at.empty() ? "Last good check" : "Last good check before"}},
               rows, Narrow::stack);
}

std::string summary(const CheckPage& check) {
  const auto bad = std::count_if(check.images.begin(), check.images.end(), wrong);
  std::string html = "<p class=\"factor\">" + std::to_string(bad) + " of " + std::to_string(check.images.size()) +
                     (check.images.size() == 1 ? " image" : " images") + " drifted or not of their set-up</p>\n";
  if (!check.checked_at.empty()) html += "<p>Checked " + escaped(time_words(check.checked_at)) + ".</p>\n";
  if (check.skipped > 0)
    html += "<p>" + std::to_string(check.skipped) + " checked before and unchanged were left out.</p>\n";
  return html + setup_table(check);
}

std::string chart_section(const SetupChecks& setup, NumberStyle style) {
  std::string html;
  if (setup.chart) {
    ControlChartText text = setup.text;
    text.decimal_comma = style.decimal_comma;
    std::string both;
    for (const ChartWidth width : {ChartWidth::broad, ChartWidth::narrow})
      both += control_chart_svg(*setup.chart, setup.change_point, text, setup.line ? &*setup.line : nullptr, width);
    html += figure(both, "Control charts of " + setup.setup, "");
  } else {
    html += "<p>No chart: " + foreign(setup.problem) + ".</p>\n";
  }
  if (!setup.change.empty()) html += "<p>" + sentence(setup.change) + "</p>\n";
  if (!setup.alerts.empty()) {
    html += "<ul>\n";
    for (const Warning& alert : setup.alerts) html += "<li>" + sentence(alert.message) + "</li>\n";
    html += "</ul>\n";
  }
  if (!setup.affected.empty()) html += "<p><b>Look at again:</b> " + foreign(setup.affected) + ".</p>\n";
  return section(setup.setup, html, true);
}

}  // namespace
}  // namespace report

std::string check_page(const CheckPage& check, const PageStyle& style) {
  using namespace report;
  const NumberStyle numbers = numbers_of(style);
  std::string content = section("Result", summary(check), true) +
                        section("Drifted, or not of their set-up", image_table(check, true, numbers), true);
  for (const SetupChecks& setup : check.setups)
    if (setup.calibration) content += chart_section(setup, numbers);
  content += section("Other images", image_table(check, false, numbers), true);
  content +=
      section("How to read this",
              "<p>A drift is a change beyond three combined standard uncertainties, or beyond the tolerance by more "
              "than U; what is closer is unverifiable, never within. A picture without a scale is within only when "
              "its file states a pixel size that agrees, or the objective and the picture size of the set-up. "
              "En is the difference over the root of both squared U. Alerts of charts change no verdict.</p>\n");
  if (check.chain)
    content +=
        section("Register", "<p>Hash at printing, over " + std::to_string(check.chain->records) +
                                " records: <span class=\"hash\">" + escaped(check.chain->head) + "</span></p>\n");
  return page({check.title, "Check against the register", place_words(check.room, check.laboratory, check.address),
               check.title},
              content, style);
}

}  // namespace scale
