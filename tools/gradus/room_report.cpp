#include "room_report.h"

#include <oneapi/tbb/parallel_for.h>
#include <scale/overview_page.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <map>
#include <set>

#include "check_report.h"
#include "checked_before.h"
#include "reticle_card.h"
#include "text.h"

namespace gradus {
namespace {

using nlohmann::json;

// So long before its day a calibration is shown as due soon (judgement: time enough for an appointment).
constexpr std::chrono::days kSoon{30};
constexpr const char* kCard = "card";

struct SheetPage {
  std::string stem, checks;  // names of the sheet and of the page of its checks, as far as they are in the folder
  std::vector<std::string> unwritten;
  std::string misunderstood;
};

std::string not_understood(const std::string& setup, const json::exception& error) {
  return setup + ": its record cannot be understood (" + error.what() + "); gradus register show prints it";
}

std::vector<std::string> write_sheet(const SheetSource& source, const std::string& stem, const RoomReport& report,
                                     const ReportPlan& plan) {
  std::vector<std::string> problems;
  std::vector<RecordedShot> shots;
  if (!is_reticle(source))
    shots = shots_of(source.content);
  else if (auto shot = eyepiece_shot_of(source.content))
    shots.push_back(std::move(*shot));
  scale::CalibrationSheet sheet = sheet_of(source, shots, report.facts);
  for (const RecordedShot* shot : shots_to_show(shots)) {
    DrawnPicture drawn = draw_shot(*shot, plan.search);
    const std::string number = std::to_string(sheet.pictures.size() + 1);
    if (std::string problem = place_picture(drawn, stem + "-" + number, plan); !problem.empty())
      problems.push_back(std::move(problem));
    sheet.pictures.push_back(std::move(drawn.page));
    for (scale::LineProfile& profile : drawn.profiles) sheet.profiles.push_back(std::move(profile));
  }
  const std::string page = scale::calibration_page(sheet, page_style(plan, std::string(kOverviewPage) + ".html"));
  for (std::string& problem : write_page(stem, page, plan)) problems.push_back(std::move(problem));
  return problems;
}

// The page of the checks that the register holds against this calibration.
std::vector<std::string> write_checks(const SheetSource& source, SheetPage& page, const std::string& stem,
                                      const RoomReport& report, const ReportPlan& plan) {
  if (report.lab == nullptr || report.facts == nullptr || !source.record) return {};
  const scale::CheckPage checks = recorded_check_page(*report.lab, source.setup, source.record->number, *report.facts);
  if (checks.images.empty()) return {};
  page.checks = stem;
  return write_page(stem, scale::check_page(checks, page_style(plan, std::string(kOverviewPage) + ".html")), plan);
}

std::string optics_words(const scale::LabSetup& setup) {
  std::string words = setup.microscope;
  const auto add = [&](const std::string& more) { words += (words.empty() ? "" : ", ") + more; };
  if (setup.conditions.magnification) add("objective " + shortest(*setup.conditions.magnification) + "×");
  if (setup.relay) add("relay " + shortest(*setup.relay) + "×");
  if (setup.reticle) add("reticle");
  return words;
}

void judge(scale::OverviewRow& row, const scale::LabScale& scale, std::chrono::sys_days today) {
  row.state = scale::SetupState::in_order;
  if (const auto due = scale::parse_date(row.due)) {
    if (std::chrono::sys_days(*due) < today)
      row.state = scale::SetupState::overdue;
    else if (std::chrono::sys_days(*due) < today + kSoon)
      row.state = scale::SetupState::due_soon;
  }
  if (scale.recalibrate_by && std::chrono::sys_days(*scale.recalibrate_by) < today)
    row.remark = "the certificate of " + scale.name + " has run out";
}

// Was the file taken out of its folder since it was checked? When the folder is not there either, nobody knows.
bool was_moved(const RecordedCheck& check, const std::string& room_folder) {
  std::error_code ignored;
  const std::filesystem::path path = std::filesystem::path(room_folder.empty() ? "." : room_folder) / check.path;
  return !std::filesystem::exists(path, ignored) && std::filesystem::is_directory(path.parent_path(), ignored);
}

// Images by their last verdict. Those that were found not to belong count until they are put right.
void add_images(scale::OverviewRow& row, const std::vector<RecordedCheck>& checks, const RoomReport& report) {
  std::map<std::string, const RecordedCheck*> last;
  for (const RecordedCheck& check : checks) last[check.path] = &check;
  std::map<std::string, int> count;
  std::string since;
  int images = 0;
  for (const auto& [path, check] : last) {
    const bool astray = check->verdict == "mismatch";
    if (astray && was_moved(*check, report.folder)) continue;
    ++images, ++count[check->verdict];
    if (astray && (since.empty() || check->made_at < since)) since = check->made_at;
  }
  if (images == 0) return;
  row.checked = std::to_string(images) + (images == 1 ? " image checked:" : " images checked:");
  for (const char* verdict : {"within", "drifted", "mismatch", "unverifiable"})
    if (count[verdict] > 0)
      row.checked += (row.checked.ends_with(':') ? " " : ", ") + std::to_string(count[verdict]) + " " + verdict;
  const int astray = count["mismatch"];
  if (astray == 0) return;
  const bool graver = row.state == scale::SetupState::drifted || row.state == scale::SetupState::overdue;
  if (!graver) row.state = scale::SetupState::images_astray;
  row.remark += (row.remark.empty() ? "" : "; ") + std::to_string(astray) +
                (astray == 1 ? " image with it does not belong to it" : " images with it do not belong to it") +
                ", first found on " + since.substr(0, 10);
}

// Checks with a scale in the picture, in a line; the last one of this set-up decides whether it has drifted.
void add_checks(scale::OverviewRow& row, const SheetSource& source, const RoomReport& report) {
  const std::vector<RecordedCheck> checks = recorded_checks(report.facts->records, source.record->number);
  for (const RecordedCheck& check : checks)
    // A picture of another set-up says nothing of this one.
    if (check.held_by_scale && check.verdict != "mismatch")
      row.checks.push_back({check.made_at, check.change, check.verdict == "within"});
  const auto last = std::find_if(checks.rbegin(), checks.rend(), [](const RecordedCheck& one) {
    return one.held_by_scale && one.verdict != "mismatch";
  });
  if (last != checks.rend() && last->verdict == "drifted") {
    row.state = scale::SetupState::drifted;
    row.remark = "found on " + last->made_at.substr(0, 10);
  }
  add_images(row, checks, report);
}

scale::OverviewRow row_of(const scale::LabSetup& setup, const RoomReport& report, const std::vector<SheetPage>& pages,
                          std::chrono::sys_days today) {
  scale::OverviewRow row;
  row.setup = setup.name;
  row.optics = optics_words(setup);
  for (std::size_t i = 0; i < report.sources.size(); ++i) {
    const SheetSource& source = report.sources[i];
    if (source.setup != setup.name) continue;
    const json& result = source.content.at("result");
    if (!pages[i].stem.empty()) row.page = pages[i].stem + ".html";
    row.factor = factor_from(result.at(is_reticle(source) ? "um_per_division" : "um_per_pixel"));
    if (is_reticle(source)) {
      row.unit = "µm/div";
      row.optics += is_reticle_in_picture(source) ? ", from a picture" : ", read by eye";
    }
    row.calibrated = source.made_at.substr(0, 10);
    if (const json due = result.value("due", json()); due.is_string()) row.due = due;
    judge(row, report.lab->scales[setup.scale], today);
    if (!source.record) row.remark = "not recorded";
    if (source.record && report.facts != nullptr) add_checks(row, source, report);
    if (!pages[i].checks.empty()) row.checks_page = pages[i].checks + ".html";
  }
  return row;
}

// A row of a record that cannot be understood has what the lab file says.
scale::OverviewRow sound_row_of(const scale::LabSetup& setup, const RoomReport& report,
                                const std::vector<SheetPage>& pages, std::chrono::sys_days today,
                                std::vector<std::string>& misunderstood) {
  std::string why;
  for (std::size_t i = 0; i < pages.size(); ++i)
    if (report.sources[i].setup == setup.name) why = pages[i].misunderstood;
  try {
    if (why.empty()) return row_of(setup, report, pages, today);
  } catch (const json::exception& error) {
    why = not_understood(setup.name, error);
  }
  misunderstood.push_back(why);
  scale::OverviewRow row;
  row.setup = setup.name;
  row.optics = optics_words(setup);
  row.remark = "its record cannot be understood";
  return row;
}

// What else the folder has: pages of runs, the bench card.
std::vector<std::pair<std::string, std::string>> further_pages(const ReportPlan& plan, bool card) {
  std::vector<std::pair<std::string, std::string>> list;
  if (card) list.emplace_back("Card for the bench: reticle divisions in micrometres", std::string(kCard) + ".html");
  std::set<std::string> names;
  std::error_code ignored;
  for (const auto& entry : std::filesystem::directory_iterator(plan.folder, ignored))
    if (entry.path().extension() == ".html") names.insert(entry.path().stem().string());
  for (const std::string& name : names) {
    if (name == kMeasurementPage) list.emplace_back("The last measurement written here", name + ".html");
    const std::string day = name.starts_with("check-") ? name.substr(std::string("check-").size()) : "";
    if (scale::parse_date(day)) list.emplace_back("Check of " + day, name + ".html");
  }
  return list;
}

// The card of the reticles that are calibrated; false when there is none.
bool write_card(const RoomReport& report, const ReportPlan& plan, std::vector<std::string>& unwritten) {
  if (report.lab == nullptr || report.facts == nullptr) return false;
  std::vector<HeldReticle> held;
  for (const scale::LabSetup& setup : report.lab->setups) {
    if (!setup.reticle) continue;
    const scale::ListedRecord* current = current_record(*report.facts, setup.name);
    held.push_back(current != nullptr ? held_reticle(setup, current->record) : not_calibrated(setup));
  }
  const scale::ReticleCard card = card_of(*report.lab, held, plan.printed_at.substr(0, 10));
  if (card.columns.empty()) return false;
  const std::string page = scale::card_page(card, page_style(plan, std::string(kOverviewPage) + ".html"));
  for (std::string& problem : write_page(kCard, page, plan)) unwritten.push_back(std::move(problem));
  return true;
}

scale::RoomOverview overview_of(const RoomReport& report, const std::vector<SheetPage>& pages, const ReportPlan& plan,
                                bool card, std::vector<std::string>& misunderstood) {
  scale::RoomOverview overview;
  overview.refused = report.refused;
  if (report.facts != nullptr) overview.chain = report.facts->chain;
  if (report.lab == nullptr) {
    overview.room = "Calibrated without a lab file";
    for (std::size_t i = 0; i < pages.size(); ++i)
      overview.further.emplace_back(report.sources[i].setup, pages[i].stem + ".html");
    return overview;
  }
  overview.room = report.lab->room;
  overview.laboratory = report.lab->laboratory;
  overview.address = report.lab->address;
  overview.further = further_pages(plan, card);
  const auto today = scale::parse_date(std::string_view(plan.printed_at).substr(0, 10));
  for (const scale::LabSetup& setup : report.lab->setups)
    overview.rows.push_back(sound_row_of(setup, report, pages, std::chrono::sys_days(today.value()), misunderstood));
  return overview;
}

// Of a set-up that is not asked for: the pages that were written before.
void find_pages(SheetPage& page, const std::string& check_stem, const ReportPlan& plan) {
  const auto is_there = [&](const std::string& stem) {
    std::error_code ignored;
    return std::filesystem::exists(std::filesystem::path(plan.folder) / (stem + ".html"), ignored);
  };
  if (!is_there(page.stem)) page.stem.clear();
  if (is_there(check_stem)) page.checks = check_stem;
}

void write_pages_of(const SheetSource& source, SheetPage& page, const std::string& check_stem, const RoomReport& report,
                    const ReportPlan& plan) {
  try {
    page.unwritten = write_sheet(source, page.stem, report, plan);
    for (std::string& problem : write_checks(source, page, check_stem, report, plan))
      page.unwritten.push_back(std::move(problem));
  } catch (const json::exception& error) {
    page.misunderstood = not_understood(source.setup, error);
  }
}

}  // namespace

void write_room_report(const RoomReport& report, const ReportPlan& plan, ReportProblems& problems) {
  PageNames names;
  for (const char* taken : {kOverviewPage, kCard, kMeasurementPage}) names.name_for(taken, "");
  std::vector<SheetPage> pages(report.sources.size());
  std::vector<std::string> check_stems;
  for (std::size_t i = 0; i < pages.size(); ++i) {
    pages[i].stem = names.name_for("calibration", report.sources[i].setup);
    check_stems.push_back(names.name_for("checks", report.sources[i].setup));
  }
  tbb::parallel_for(std::size_t{0}, pages.size(), [&](std::size_t i) {
    if (report.only.empty() || report.only.contains(report.sources[i].setup))
      write_pages_of(report.sources[i], pages[i], check_stems[i], report, plan);
    else
      find_pages(pages[i], check_stems[i], plan);
  });
  std::vector<std::string>& unwritten = problems.unwritten;
  for (SheetPage& page : pages) unwritten.insert(unwritten.end(), page.unwritten.begin(), page.unwritten.end());
  const bool card = write_card(report, plan, unwritten);
  const scale::RoomOverview overview = overview_of(report, pages, plan, card, problems.misunderstood);
  for (std::string& problem : write_page(kOverviewPage, scale::overview_page(overview, page_style(plan, "")), plan))
    unwritten.push_back(std::move(problem));
}

}  // namespace gradus
