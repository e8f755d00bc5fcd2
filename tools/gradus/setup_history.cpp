#include "setup_history.h"

#include <scale/chart_svg.h>

#include <algorithm>
#include <cmath>

#include "columns.h"
#include "setups_json.h"
#include "text.h"

namespace gradus {
namespace {

std::string percent(double share, double uncertainty) {
  const std::string digits = fixed(100.0 * share, std::max(1, decimals_for(100.0 * uncertainty)));
  // What rounds to nothing has no sign.
  const bool nothing = digits.find_first_not_of("-0.") == std::string::npos;
  return (nothing && digits.starts_with('-') ? digits.substr(1) : digits) + " %";
}

// The mean of what the budgets state, in squares.
scale::ChartBase budget_base(const std::vector<RecordedCheck>& shots) {
  double squares = 0.0, registered = 0.0;
  for (const RecordedCheck& shot : shots) {
    squares += shot.standard_uncertainty * shot.standard_uncertainty;
    registered += shot.registered_uncertainty * shot.registered_uncertainty;
  }
  const auto count = static_cast<double>(shots.size());
  const double sigma = std::sqrt(squares / count);
  // A shot always adds something of its own; of a stated repeatability of nothing there would be no chart.
  constexpr double kMostInCommon = 0.999;
  return {0.0, sigma, std::min(std::sqrt(registered / count), kMostInCommon * sigma)};
}

std::string base_words(std::size_t shots) {
  const std::string count = std::to_string(shots);
  return "Limits from the first " + count +
         " shots: of a single one, those within which a further one lies in 99.73 % (mean ± t s √(1 + 1/" + count +
         ")); mean and sums begin after them, of departures from what all shots before let expect.";
}

void add_chart(SetupHistory& history, const ChartChoice& choice) {
  std::vector<double> values;
  for (const RecordedCheck& shot : history.shots) values.push_back(shot.change);
  if (values.empty()) {
    history.problem =
        "no check shot that fits the set-up was recorded against this calibration; run gradus check with --record";
    return;
  }
  scale::ChartBase base = budget_base(history.shots);
  history.source =
      "Limits from the uncertainty budget, of a single shot ± 3 standard deviations; mean and sums are of departures "
      "from what calibration and earlier shots let "
      "expect.";
  if (choice.base > 0) {
    const auto agreed = scale::base_of(std::span(values).first(std::min(choice.base, values.size())));
    if (values.size() >= choice.base && agreed) {
      base = *agreed;
      history.source = base_words(choice.base);
    } else if (!choice.until_then) {
      history.problem = "there are " + std::to_string(values.size()) + " shots, fewer than the base period of " +
                        std::to_string(choice.base) + ", or they do not scatter";
      return;
    }
  }
  history.chart = scale::control_chart(values, base, choice.settings);
  history.change = scale::change_point(values, base);
}

// The line is fitted to the agreed base period: fewer shots would not tell how far later ones may scatter.
void add_line(SetupHistory& history, const ChartChoice& choice) {
  std::vector<std::vector<scale::CheckStandard>> occasions;
  std::vector<scale::CheckStandard> readings;
  for (const RecordedCheck& shot : history.shots) {
    if (shot.spacings.empty()) {
      history.line_problem = "a shot shows too few graduations for a low, a middle and a high spacing";
      return;
    }
    if (occasions.size() < choice.base) readings.insert(readings.end(), shot.spacings.begin(), shot.spacings.end());
    occasions.push_back(shot.spacings);
  }
  if (choice.base == 0 || occasions.size() <= choice.base) {
    history.line_problem = "it takes an agreed base period (--base, or check_base of the lab file) and shots after it";
    return;
  }
  // The share of single shots beyond three standard deviations by chance. With the Handbook's 5 % a chart of weekly
  // shots would raise an alert in 93 of 100 years in which nothing changed.
  constexpr double kByChance = 0.0027;
  history.line = scale::line_chart(occasions, scale::calibration_line(readings), kByChance);
  // The base period was agreed to be in order.
  std::fill_n(history.line->out.begin(), choice.base, false);
}

std::string day_of(const RecordedCheck& shot) { return shot.taken_at.substr(0, 10); }

std::string shot_words(const SetupHistory& history, std::size_t place) {
  return "shot " + std::to_string(place + 1) + ", of " + day_of(history.shots[place]);
}

Json optional_place(const std::optional<std::size_t>& place) { return place ? Json(*place + 1) : Json(nullptr); }

const char* kind_of(scale::ChangeKind kind) {
  switch (kind) {
    case scale::ChangeKind::jump:
      return "jump";
    case scale::ChangeKind::trend:
      return "trend";
    case scale::ChangeKind::jump_or_trend:
      return "jump-or-trend";
    case scale::ChangeKind::none:
      break;
  }
  return "none";
}

Json change_json(const SetupHistory& history) {
  const scale::ChangePoint& change = history.change;
  if (change.kind == scale::ChangeKind::none) return nullptr;
  return {{"kind", kind_of(change.kind)},
          {"first_after", change.first_after + 1},
          {"earliest", change.earliest + 1},
          {"latest", change.latest + 1},
          {"after", day_of(history.shots[change.first_after - 1])},
          {"before", day_of(history.shots[change.first_after])},
          {"size", change.size},
          {"expanded_uncertainty", change.expanded_uncertainty},
          {"slope_per_shot", change.slope}};
}

Json chart_json(const scale::ControlChart& chart) {
  return {{"centre", chart.base.centre},
          {"sigma", chart.base.sigma},
          {"centre_uncertainty", chart.base.centre_uncertainty},
          {"lower", chart.lower},
          {"upper", chart.upper},
          {"lambda", chart.settings.lambda},
          {"ewma_limit", chart.settings.ewma_limit},
          {"cusum_slack", chart.settings.cusum_slack},
          {"cusum_limit", chart.settings.cusum_limit},
          {"range_upper", chart.range_upper},
          {"first_beyond", optional_place(chart.first_beyond)},
          {"first_ewma", optional_place(chart.first_ewma)},
          {"first_cusum", optional_place(chart.first_cusum)},
          {"first_range", optional_place(chart.first_range)}};
}

Json shots_json(const SetupHistory& history) {
  Json list = Json::array();
  for (std::size_t i = 0; i < history.shots.size(); ++i) {
    const RecordedCheck& shot = history.shots[i];
    Json json = {{"record", shot.record},          {"path", shot.path},
                 {"taken_at", shot.taken_at},      {"verdict", shot.verdict},
                 {"relative_change", shot.change}, {"standard_uncertainty", shot.standard_uncertainty}};
    json["ewma"] = history.chart ? Json(history.chart->ewma[i]) : Json(nullptr);
    json["cusum_high"] = history.chart ? Json(history.chart->cusum_high[i]) : Json(nullptr);
    json["cusum_low"] = history.chart ? Json(history.chart->cusum_low[i]) : Json(nullptr);
    json["line_um"] = history.line ? Json(history.line->control[i]) : Json(nullptr);
    list.push_back(json);
  }
  return list;
}

std::optional<std::size_t> first_out(const scale::LineChart& line) {
  const auto out = std::find(line.out.begin(), line.out.end(), true);
  if (out == line.out.end()) return std::nullopt;
  return static_cast<std::size_t>(out - line.out.begin());
}

}  // namespace

ChartChoice agreed_charts(const scale::Lab& lab, const std::string& setup) {
  for (const scale::LabSetup& one : lab.setups)
    if (one.name == setup) return {{}, one.check_base, true};
  return {};
}

SetupHistory history_of(const std::string& setup, std::int64_t calibration, const std::vector<RecordedCheck>& checks,
                        const ChartChoice& choice) {
  SetupHistory history;
  history.setup = setup;
  history.calibration = calibration;
  for (const RecordedCheck& check : checks)
    if (check.held_by_scale && check.verdict != "mismatch" && check.standard_uncertainty > 0.0)
      history.shots.push_back(check);
  add_chart(history, choice);
  add_line(history, choice);
  return history;
}

std::vector<scale::Warning> SetupHistory::alerts() const {
  std::vector<scale::Warning> list;
  const auto add = [&](const char* code, const std::optional<std::size_t>& first, const std::string& what) {
    if (first) list.push_back({code, what + " since " + shot_words(*this, *first)});
  };
  if (chart) {
    add("chart-beyond", chart->first_beyond, "a single shot is beyond the limits");
    add("chart-ewma", chart->first_ewma, "the weighted mean (EWMA) is beyond its limit");
    add("chart-cusum", chart->first_cusum, "the cumulative sum is beyond its limit");
  }
  if (line)
    add("chart-line", first_out(*line), "the calibration line no longer holds for low, middle and high spacings");
  return list;
}

std::string SetupHistory::change_words() const {
  if (change.kind == scale::ChangeKind::none) return "";
  const std::string last = day_of(shots[change.first_after - 1]), first = day_of(shots[change.first_after]);
  const std::string between = last == first ? "on " + first : "between " + last + " and " + first;
  const std::string since =
      "shot " + std::to_string(change.first_after + 1) +
      (change.earliest == change.latest ? ""
                                        : " (" + std::to_string(change.earliest + 1) + " to " +
                                              std::to_string(change.latest + 1) + " are possible)");
  const std::string size = percent(change.size, change.expanded_uncertainty) + " (U " +
                           percent(change.expanded_uncertainty, change.expanded_uncertainty) + ")";
  switch (change.kind) {
    case scale::ChangeKind::jump:
      return "A sudden change, most likely " + between + ", before " + since + ": " + size + ".";
    case scale::ChangeKind::trend:
      return "A slow trend, which most likely began " + between + ", from " + since +
             " on: " + percent(change.slope, change.expanded_uncertainty / 10.0) + " a shot.";
    default:
      return "A change, most likely " + between + ", before " + since + ": " + size +
             "; whether sudden or slow cannot be told yet.";
  }
}

std::string history_json(const SetupHistory& history) {
  Json json = {{"schema", "gradus/history/1"},
               {"setup", valid_utf8(history.setup)},
               {"calibration", history.calibration},
               {"limits_from", history.source}};
  json["chart"] = history.chart ? chart_json(*history.chart) : Json(nullptr);
  json["line_limit_um"] = history.line ? Json(history.line->limit) : Json(nullptr);
  json["change"] = change_json(history);
  json["alerts"] = Json::array();
  for (const scale::Warning& alert : history.alerts()) json["alerts"].push_back(code_and_message(alert));
  json["shots"] = shots_json(history);
  return json.dump(2) + "\n";
}

std::string history_text(const SetupHistory& history) {
  std::string text = "Check shots since record " + std::to_string(history.calibration) + ": " +
                     std::to_string(history.shots.size()) + "\n";
  if (!history.problem.empty()) return text + "No chart: " + history.problem + ".\n";
  const scale::ControlChart& chart = *history.chart;
  const double sigma = chart.base.sigma;
  Columns columns({true, false, true, true, false});
  const std::vector<std::string> head = {"shot", "day", "change", "EWMA", "verdict"};
  std::vector<std::vector<std::string>> rows;
  for (std::size_t i = 0; i < history.shots.size(); ++i)
    rows.push_back({std::to_string(i + 1), day_of(history.shots[i]), percent(history.shots[i].change, sigma),
                    percent(chart.ewma[i], sigma), history.shots[i].verdict});
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  text += columns.line(head) + columns.rule();
  for (const auto& row : rows) text += columns.line(row);
  text += columns.rule() + history.source + " Centre " + percent(chart.base.centre, sigma) + ", standard deviation " +
          percent(sigma, sigma) + ".\n";
  for (const scale::Warning& alert : history.alerts()) text += "Alert: " + alert.message + ".\n";
  if (!history.line) text += "No chart of the line: " + history.line_problem + ".\n";
  const std::string change = history.change_words();
  return text + (change.empty() ? "No change is seen.\n" : change + "\n");
}

scale::ControlChartText chart_words(const SetupHistory& history) {
  scale::ControlChartText text;
  text.title = valid_utf8(history.setup) + ": change of the factor since record " + std::to_string(history.calibration);
  text.source = history.source;
  for (const RecordedCheck& shot : history.shots) text.labels.push_back(day_of(shot));
  return text;
}

std::string history_svg(const SetupHistory& history) {
  return scale::control_chart_svg(*history.chart, history.change, chart_words(history),
                                  history.line ? &*history.line : nullptr);
}

}  // namespace gradus
