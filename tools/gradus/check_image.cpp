#include "check_image.h"

#include <sys/stat.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <new>

#include "file_hash.h"
#include "file_statement.h"
#include "region.h"
#include "setups.h"
#include "shot_reading.h"

namespace gradus {
namespace {

constexpr std::int64_t kSecond = 1'000'000'000;
constexpr std::size_t kFewestForSpacings = 5;

CheckOutcome unverifiable(const Input& input, const std::string& code, const std::string& message) {
  CheckOutcome outcome;
  outcome.image = input.path;
  outcome.setup = input.setup;
  outcome.judgement.evidence.push_back({code, message});
  outcome.readable = code != "unreadable" && code != "internal-error";
  return outcome;
}

bool is_check_shot(const scale::LabSetup& setup, const std::string& path) {
  return std::any_of(setup.check_images.begin(), setup.check_images.end(),
                     [&](const std::string& glob) { return scale::matches_glob(glob, path); });
}

// Distances from the first graduation to about a quarter, half and the whole of what is in view: by the certificate,
// and by the registered factor.
std::vector<scale::CheckStandard> spacings_of(const scale::Ruling& ruling, double division_um, double um_per_pixel) {
  std::vector<const scale::Graduation*> used;
  for (const scale::Graduation& line : ruling.graduations)
    if (line.used) used.push_back(&line);
  if (used.size() < kFewestForSpacings) return {};
  std::vector<scale::CheckStandard> spacings;
  for (const std::size_t quarters : {1U, 2U, 4U}) {
    const scale::Graduation& line = *used[(used.size() - 1) * quarters / 4];
    spacings.push_back({division_um * (line.index - used.front()->index),
                        um_per_pixel * (line.position_px - used.front()->position_px)});
  }
  return spacings;
}

void judge_scale(CheckOutcome& outcome, const Input& input, const CheckPlan& plan, const images::Picture& picture,
                 const scale::Reading& reading, const cv::Rect& region) {
  const std::size_t place = *input.setup;
  const scale::LabSetup& lab = plan.room.lab.setups[place];
  const scale::LabScale& scale = plan.room.lab.scales[lab.scale];
  const scale::RegisteredSetup& own = plan.registered.setups[place];
  const scale::Shot shot = shot_of(input, reading, hints_of(input, plan.how[place], region), picture);
  outcome.held_by_scale = true;
  outcome.judgement =
      scale::judge_shot(shot, scale.reference, lab.conditions, own, scale.name == own.scale, plan.registered.setups);
  const scale::ScaleComparison& first = outcome.judgement.comparisons.front();
  outcome.spacings = spacings_of(reading.rulings.front(), scale.reference.division.value, first.registered);
}

// The part of this picture that is `region` of one of the calibrated size; nothing when it reaches beyond the picture.
std::optional<cv::Rect> region_here(const std::array<int, 4>& region, const std::optional<std::array<int, 2>>& size,
                                    const images::Picture& picture) {
  const double x = size ? static_cast<double>(picture.width) / (*size)[0] : 1.0;
  const double y = size ? static_cast<double>(picture.height) / (*size)[1] : 1.0;
  const auto at = [](int place, double ratio) { return static_cast<int>(std::lround(place * ratio)); };
  const cv::Rect here(at(region[0], x), at(region[1], y), at(region[2], x), at(region[3], y));
  if (here.width < 1 || here.height < 1 || here.br().x > picture.width || here.br().y > picture.height)
    return std::nullopt;
  return here;
}

std::optional<scale::StatedBar> bar_in(const images::Picture& picture, std::size_t place, const CheckPlan& plan) {
  const std::optional<scale::LabBar>& drawn = plan.room.lab.setups[place].scale_bar;
  if (!drawn || plan.tags_only) return std::nullopt;
  const auto region = region_here(drawn->region, plan.registered.setups[place].size, picture);
  scale::StatedBar bar{drawn->length.value, {std::nullopt, "the region reaches beyond the picture"}};
  if (region)
    bar.found = scale::read_scale_bar(scale::crop(picture.view(), region->x, region->y, region->width, region->height));
  return bar;
}

// Of a check shot the file's own words are told as well, but the scale has decided.
void add_file_evidence(CheckOutcome& outcome, const scale::FileStatement& statement, const CheckPlan& plan) {
  const scale::Judgement said =
      scale::judge_file(statement, plan.registered.setups[*outcome.setup], plan.registered.setups);
  for (const scale::Evidence& evidence : said.evidence)
    for (const char* code :
         {"camera-differs", "binning-differs", "pixel-size-differs", "magnification-differs", "bar-differs"})
      if (evidence.code == code) outcome.judgement.evidence.push_back(evidence);
}

// A calibration that had run out when the picture was taken holds no longer without a scale in the picture.
void add_dates(CheckOutcome& outcome, const CheckPlan& plan) {
  const std::string day = outcome.taken_at.substr(0, 10);
  const std::string& due = plan.registered.due[*outcome.setup];
  if (!due.empty() && day > due) {
    outcome.judgement.evidence.push_back({"calibration-overdue", "it is of " + day +
                                                                     ", and the set-up was due for "
                                                                     "calibration by " +
                                                                     due});
    if (!outcome.held_by_scale && outcome.judgement.verdict == scale::Verdict::within)
      outcome.judgement.verdict = scale::Verdict::unverifiable;
  }
  const scale::LabScale& scale = plan.room.lab.scales[plan.room.lab.setups[*outcome.setup].scale];
  if (outcome.held_by_scale && scale.recalibrate_by && day > date_words(*scale.recalibrate_by))
    outcome.judgement.evidence.push_back({"certificate-overdue", "the certificate of " + scale.name + " ran out on " +
                                                                     date_words(*scale.recalibrate_by)});
}

// The file's own word, or when it was last written; never later than now.
std::string time_of(const images::FileFacts& facts, const std::optional<FileMark>& mark, const std::string& now) {
  std::string time = taken_at(facts);
  if (time.empty() && mark) time = utc_of(mark->modified);
  return time.empty() || time > now ? now : time;
}

void judge(CheckOutcome& outcome, const Input& input, const CheckPlan& plan, const images::Picture& picture) {
  const std::size_t place = *input.setup;
  const scale::LabSetup& lab = plan.room.lab.setups[place];
  const Examination& how = plan.how[place];
  const bool declared = is_check_shot(lab, input.path), region_stated = how.region.has_value();
  const bool try_scale = !plan.tags_only && (declared || region_stated || lab.check_images.empty());
  const cv::Rect region = how.region.value_or(cv::Rect(0, 0, picture.width, picture.height));
  scale::Reading reading;
  if (try_scale) {
    if (auto outside =
            region_failure(how.region, picture.width, picture.height, "put check_region of the lab file right"))
      reading.failure = std::move(outside);
    else
      reading = read_ruling(picture, region);
  }
  scale::FileStatement statement = statement_of(picture);
  statement.bar = outcome.bar = bar_in(picture, place, plan);
  if (!reading.rulings.empty()) {
    judge_scale(outcome, input, plan, picture, reading, region);
    add_file_evidence(outcome, statement, plan);
    return;
  }
  look_for_rescaling(statement, picture, scale::Trace::proven);
  outcome.judgement = scale::judge_file(statement, plan.registered.setups[place], plan.registered.setups);
  if (!try_scale || (!declared && !region_stated)) return;
  // It was to show a scale: without one nothing is proven.
  const std::string why = reading.failure ? reading.failure->message : "no scale was found";
  auto& evidence = outcome.judgement.evidence;
  evidence.insert(evidence.begin(), {"no-scale-found", "it is a check shot, but " + why});
  if (outcome.judgement.verdict == scale::Verdict::within) outcome.judgement.verdict = scale::Verdict::unverifiable;
}

CheckOutcome checked(const Input& input, const CheckPlan& plan) {
  if (!input.problem.empty()) return unverifiable(input, "unreadable", input.problem);
  if (input.refusal) return unverifiable(input, input.refusal->code, input.refusal->message);
  const std::size_t place = *input.setup;
  images::ReadOptions options;
  options.channel = plan.how[place].channel;
  options.header_only = plan.tags_only;
  const std::optional<FileMark> mark = mark_of(input.path);
  const auto picture = images::read_image(input.path, options);
  if (!picture) return unverifiable(input, "unreadable", picture.error().message);
  CheckOutcome outcome;
  outcome.image = input.path;
  outcome.setup = place;
  outcome.warnings = picture->warnings;
  outcome.mark = mark;
  outcome.header_only = plan.tags_only;
  if (outcome.mark && plan.hash_files) outcome.mark->sha256 = hash_of_file(input.path);
  outcome.taken_at = time_of(picture->facts, mark, plan.now);
  if (!plan.registered.setups[place].both) {
    outcome.judgement.evidence.push_back(
        {"not-registered",
         plan.room.lab.setups[place].name + " has no current calibration in the register; calibrate it with --record"});
    return outcome;
  }
  judge(outcome, input, plan, *picture);
  add_dates(outcome, plan);
  return outcome;
}

}  // namespace

std::string utc_of(std::int64_t nanoseconds) {
  const std::time_t seconds = nanoseconds / kSecond;
  std::tm utc{};
  gmtime_r(&seconds, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

std::optional<FileMark> mark_of(const std::string& path) {
  struct stat status {};
  if (stat(path.c_str(), &status) != 0) return std::nullopt;
  FileMark mark;
  mark.bytes = static_cast<std::uintmax_t>(status.st_size);
  mark.modified = status.st_mtim.tv_sec * kSecond + status.st_mtim.tv_nsec;
  return mark;
}

CheckOutcome check_image(const Input& input, const CheckPlan& plan) noexcept {
  try {
    return checked(input, plan);
  } catch (const std::bad_alloc&) {
    return unverifiable(input, "internal-error", "there is not enough memory for it; use fewer --jobs");
  } catch (const std::exception& error) {
    return unverifiable(
        input, "internal-error",
        std::string("it could not be analysed (") + error.what() + "); please report it with the picture");
  }
}

}  // namespace gradus
