#include <scale/drift.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "calibration/separation.h"
#include "drift/touched.h"
#include "drift/words.h"

namespace scale {
namespace {

using drift::fixed;
using drift::percent;

// A slide laid down anew, when one shot alone could not tell its scatter: the upper end of what the trade sees (1e-4 to
// 5e-4, from memory), so that nobody is accused by a figure that was never measured.
constexpr double kRemounting = 5e-4;
// Nearer than that a factor is a drift of its own set-up rather than another one.
constexpr double kCouldBeAnother = 0.02;
// Both ends of what is in view within this share of the span of a shot of the register: the same part of the field.
constexpr double kSamePlace = 0.1;

constexpr const char* kDifference = "x-y difference";

struct Seen {
  char direction = 'x';
  FactorAlong factor;
  bool same_field = false;
};

bool in_same_field(const Ruling& ruling, char direction, const RegisteredSetup& own) {
  const double first = ruling.graduations.front().position_px, last = ruling.graduations.back().position_px;
  return std::any_of(own.seen.begin(), own.seen.end(), [&](const std::array<double, 3>& shot) {
    const double reach = kSamePlace * (shot[2] - shot[1]);
    return (shot[0] == 0.0) == (direction == 'x') && std::abs(first - shot[1]) < reach &&
           std::abs(last - shot[2]) < reach;
  });
}

// One ruling by itself through the budget of a set-up.
Seen seen_along(const Shot& shot, const Ruling& ruling, const ReferenceScale& scale, const SetupConditions& conditions,
                const RegisteredSetup& own) {
  Shot single = shot;
  single.reading.rulings = {ruling};
  SetupConditions of_shot = conditions;
  of_shot.stated.repeatability = own.repeatability.value_or(kRemounting);
  const SetupCalibration found = calibrate_setup(std::span(&single, 1), scale, of_shot);
  Seen seen;
  seen.direction = found.x ? 'x' : 'y';
  seen.factor.um_per_pixel = found.um_per_pixel.value;
  for (const BudgetLine& line : found.budget) {
    if (!line.stated || line.input.name == kDifference) continue;
    const bool repeated = line.input.name == "repeatability" && own.repeatability;
    seen.factor.parts.push_back({line.input.name, line.contribution / found.um_per_pixel.value,
                                 repeated ? own.repeatability_freedom : line.input.degrees_of_freedom});
  }
  seen.same_field = in_same_field(ruling, seen.direction, own);
  if (!own.kappa || !own.area) return seen;
  const CalibratedAxis axis = calibrate(single.reading, scale, shot.hints).axes.front();
  const calibration::SeparationInput input{&single, &single.reading.rulings.front(), &axis};
  seen.factor.um_per_pixel *= 1.0 + calibration::area_correction(input, *own.kappa, *own.area);
  seen.same_field = true;
  return seen;
}

const FactorAlong& registered_along(const RegisteredSetup& own, char direction) {
  const auto& along = direction == 'x' ? own.x : own.y;
  return along ? *along : *own.both;
}

FactorAlong with_remounting(FactorAlong factor, const RegisteredSetup& own) {
  if (!own.repeatability)
    factor.parts.push_back({"repeatability", kRemounting, std::numeric_limits<double>::infinity()});
  return factor;
}

ScaleComparison comparison_of(const Seen& seen, const RegisteredSetup& own, bool same_scale) {
  std::vector<std::string> shared;
  if (same_scale) shared = {"reference scale", "expansion of the scale"};
  if (seen.same_field) shared.emplace_back("field");
  ScaleComparison comparison =
      compare_factors(seen.factor, with_remounting(registered_along(own, seen.direction), own), shared);
  comparison.direction = seen.direction;
  return comparison;
}

std::string change_words(const ScaleComparison& c) {
  return std::string("the factor along ") + c.direction + " is " + percent(std::abs(c.relative_change)) +
         (c.relative_change > 0.0 ? " above" : " below") + " the registered one (U " + percent(c.expanded_uncertainty) +
         ")";
}

// What a width of 100 µm is stated as when the registered factor is used on such a picture.
std::string consequence_words(const ScaleComparison& c) {
  const double stated = 100.0 * c.registered / c.found;
  return "a width of 100 µm would be given as " + fixed(stated, std::abs(stated - 100.0) < 0.1 ? 3 : 2) + " µm";
}

double severity(const ScaleComparison& c) {
  return c.limit > 0.0 ? std::abs(c.relative_change) / c.limit : std::abs(c.relative_change) * 1e12;
}

// ISO 14253-1: outside by more than U is proven, within U of the limit nothing is.
Verdict by_tolerance(const ScaleComparison& c, double tolerance, std::vector<Evidence>& evidence) {
  const double change = std::abs(c.relative_change);
  const std::string limits = "the tolerance of " + percent(tolerance);
  if (change > tolerance + c.expanded_uncertainty) {
    evidence.push_back({"beyond-tolerance",
                        std::string("the change along ") + c.direction + " is beyond " + limits + " by more than U"});
    return Verdict::drifted;
  }
  if (change <= tolerance - c.expanded_uncertainty) return Verdict::within;
  evidence.push_back({"tolerance-undecided", change_words(c) + ": so near to " + limits +
                                                 " that neither keeping nor exceeding it is proven; take more shots"});
  return Verdict::unverifiable;
}

Verdict verdict_of(const ScaleComparison& c, const RegisteredSetup& own, std::vector<Evidence>& evidence) {
  Verdict verdict = Verdict::within;
  if (std::abs(c.relative_change) > c.limit) {
    evidence.push_back({"scale-shift", change_words(c) + "; " + consequence_words(c)});
    verdict = Verdict::drifted;
  }
  if (own.tolerance) {
    const Verdict tolerated = by_tolerance(c, *own.tolerance, evidence);
    if (verdict == Verdict::within) verdict = tolerated;
  }
  if (verdict == Verdict::within) evidence.push_back({"scale-agrees", change_words(c) + "; " + consequence_words(c)});
  if (std::abs(c.en) > 1.0 && verdict != Verdict::drifted)
    evidence.push_back({"en-above-1", "En is " + fixed(c.en, 2) + " along " + c.direction +
                                          ": more than the uncertainties let expect, not yet a drift"});
  return verdict;
}

void name_likeness(Judgement& judgement, const RegisteredSetup& own, std::span<const RegisteredSetup> all,
                   const Shot& shot) {
  const ScaleComparison& worst = judgement.comparisons.front();
  if (judgement.verdict != Verdict::drifted || std::abs(worst.relative_change) < kCouldBeAnother) return;
  std::optional<double> size_ratio;
  if (own.size && shot.width > 0) size_ratio = static_cast<double>((*own.size)[0]) / shot.width;
  judgement.looks_like = likeness_of(worst.found, own, all, size_ratio);
  if (!judgement.looks_like) return;
  judgement.verdict = Verdict::mismatch;
  judgement.evidence.push_back(
      {"looks-like", drift::micrometres(worst.found) + " per pixel looks like " + in_words(*judgement.looks_like)});
}

void check_size(Judgement& judgement, const RegisteredSetup& own, const Shot& shot) {
  if (!own.size || (shot.width == (*own.size)[0] && shot.height == (*own.size)[1])) return;
  judgement.verdict = Verdict::mismatch;
  judgement.evidence.push_back({"size-differs", "it is " + drift::size_words({shot.width, shot.height}) +
                                                    " pixels, the images of " + own.name + " are " +
                                                    drift::size_words(*own.size)});
}

}  // namespace

Judgement judge_shot(const Shot& shot, const ReferenceScale& scale, const SetupConditions& conditions,
                     const RegisteredSetup& own, bool same_scale, std::span<const RegisteredSetup> all) {
  if (shot.reading.rulings.empty() || !own.both)
    throw std::invalid_argument("judge_shot: there is no ruling, or no registered factor");
  Judgement judgement;
  judgement.verdict = Verdict::within;
  for (const Ruling& ruling : shot.reading.rulings)
    judgement.comparisons.push_back(comparison_of(seen_along(shot, ruling, scale, conditions, own), own, same_scale));
  std::stable_sort(judgement.comparisons.begin(), judgement.comparisons.end(),
                   [](const auto& a, const auto& b) { return severity(a) > severity(b); });
  for (const ScaleComparison& comparison : judgement.comparisons) {
    const Verdict verdict = verdict_of(comparison, own, judgement.evidence);
    const bool worse = verdict == Verdict::drifted || judgement.verdict == Verdict::within;
    if (verdict != Verdict::within && worse) judgement.verdict = verdict;
  }
  name_likeness(judgement, own, all, shot);
  check_size(judgement, own, shot);
  if (!own.repeatability)
    judgement.evidence.push_back(
        {"repeatability-assumed", "the register's factor rests on one shot, so " + percent(kRemounting) +
                                      " was taken for laying the slide down anew; calibrate with several shots"});
  drift::add_touched(judgement, shot, own);
  return judgement;
}

}  // namespace scale
