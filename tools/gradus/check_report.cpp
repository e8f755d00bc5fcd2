#include "check_report.h"

#include <algorithm>

#include "affected.h"
#include "checked_before.h"
#include "text.h"

namespace gradus {
namespace {

using nlohmann::json;

std::optional<double> number_in(const json& result, const char* key) {
  const json value = result.value(key, json());
  return value.is_number() ? std::optional(value.get<double>()) : std::nullopt;
}

std::string text_in(const json& result, const char* key) {
  const json value = result.value(key, json());
  return value.is_string() ? value.get<std::string>() : "";
}

scale::Verdict verdict_named(const std::string& name) {
  for (const scale::Verdict one : {scale::Verdict::within, scale::Verdict::drifted, scale::Verdict::mismatch})
    if (name == scale::name_of(one)) return one;
  return scale::Verdict::unverifiable;
}

std::string look_again(const CheckedSetup& setup) {
  const std::string since = setup.last_good.empty() ? "its calibration" : "it was last found within";
  if (setup.affected.empty()) return "nothing, as no result was recorded since " + since;
  return affected_words(setup.affected) + ", recorded since " + since +
         (setup.last_good.empty() ? ", as no check was good since" : "");
}

}  // namespace

scale::CheckedImage checked_image(const json& result, const std::string& setup) {
  scale::CheckedImage image;
  image.image = result.at("image");
  image.setup = setup.empty() ? text_in(result, "setup") : setup;
  image.taken_at = text_in(result, "taken_at");
  image.verdict = verdict_named(result.at("verdict"));
  image.relative_change = number_in(result, "relative_change");
  image.expanded_uncertainty = number_in(result, "expanded_uncertainty");
  image.en = number_in(result, "en");
  if (const std::string like = text_in(result, "looks_like"); !like.empty())
    image.looks_like = scale::in_words({like, number_in(result, "looks_like_times").value_or(1.0)});
  for (const json& one : result.at("evidence")) image.evidence.push_back({one.at("code"), one.at("message")});
  return image;
}

scale::SetupChecks setup_checks(const SetupHistory& history) {
  scale::SetupChecks checks;
  checks.setup = valid_utf8(history.setup);
  checks.calibration = history.calibration;
  checks.chart = history.chart;
  checks.change_point = history.change;
  checks.line = history.line;
  checks.problem = history.problem;
  if (history.chart) {
    checks.text = chart_words(history);
    checks.alerts = history.alerts();
    checks.change = history.change_words();
  }
  return checks;
}

scale::CheckPage recorded_check_page(const scale::Lab& lab, const std::string& setup, std::int64_t calibration,
                                     const RegisterFacts& facts) {
  scale::CheckPage page;
  page.title = setup;
  page.room = lab.room, page.laboratory = lab.laboratory, page.address = lab.address;
  page.chain = facts.chain;
  for (const scale::ListedRecord& listed : facts.records) {
    const scale::RecordDraft& draft = listed.record.draft;
    if (draft.kind != "check" || draft.about != calibration || listed.withdrawn_by) continue;
    const json content = json::parse(draft.content);
    for (const json& result : content.at("results")) page.images.push_back(checked_image(result, setup));
  }
  if (page.images.empty()) return page;
  const std::vector<RecordedCheck> checks = recorded_checks(facts.records, calibration);
  scale::SetupChecks charts = setup_checks(history_of(setup, calibration, checks, agreed_charts(lab, setup)));
  charts.last_good = last_good(checks, calibration).made_at;
  for (const scale::CheckedImage& image : page.images) ++charts.count[static_cast<std::size_t>(image.verdict)];
  page.setups = {std::move(charts)};
  // The last ones are read first.
  std::reverse(page.images.begin(), page.images.end());
  return page;
}

std::vector<std::string> write_check_report(const CheckRun& run, const std::vector<SetupHistory>& histories,
                                            const ReportPlan& plan) {
  scale::CheckPage page;
  page.title = "Check of " + run.checked_at.substr(0, 10);
  page.room = run.lab.room, page.laboratory = run.lab.laboratory, page.address = run.lab.address;
  page.checked_at = run.checked_at;
  page.skipped = run.skipped;
  const json document = json::parse(check_json(run));
  for (const json& result : document.at("results")) page.images.push_back(checked_image(result, ""));
  for (const CheckedSetup& setup : run.setups) {
    const auto images = setup.count[0] + setup.count[1] + setup.count[2] + setup.count[3];
    if (images == 0) continue;
    const auto history = std::find_if(histories.begin(), histories.end(),
                                      [&](const SetupHistory& one) { return one.setup == setup.name; });
    scale::SetupChecks checks;
    if (history != histories.end()) checks = setup_checks(*history);
    checks.setup = valid_utf8(setup.name);
    checks.calibration = setup.calibration;
    checks.count = setup.count;
    checks.last_good = setup.last_good;
    if (setup.count[static_cast<std::size_t>(scale::Verdict::drifted)] > 0) checks.affected = look_again(setup);
    page.setups.push_back(std::move(checks));
  }
  return write_page("check-" + run.checked_at.substr(0, 10), scale::check_page(page, page_style(plan, home_in(plan))),
                    plan);
}

}  // namespace gradus
