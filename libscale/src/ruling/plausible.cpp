#include "ruling/plausible.h"

#include <algorithm>
#include <cmath>
#include <iomanip>
#include <map>
#include <sstream>
#include <utility>

#include "numeric/robust.h"
#include "ruling/block_parts.h"
#include "ruling/broad_band.h"
#include "ruling/hidden_lines.h"
#include "ruling/likeness.h"
#include "ruling/next_rows.h"
#include "ruling/spaces.h"
#include "ruling/tracks.h"

namespace scale {

namespace {

// Limits between what 99 % of rendered and real scales keep and what pictures without a scale show; the accuracy suite
// measures both rates.
constexpr double kMostResidual = 0.02;         // of the pitch, about even spacing (scales: 0.009)
constexpr double kMostResidualOfMany = 0.025;  // where there are many lines
constexpr double kMostPitchChange = 0.12;      // of the pitch, over the field (scales: 0.1)
constexpr double kMostAlong = 0.25;            // amplitude along a line, relative
constexpr double kMostFine = 0.14;             // the same within six pixels (scales: 0.1),
constexpr double kMostFineOfMany = 0.24;  // or of so many lines, which may be ragged (text, knit cloth: 0.25 and more)
constexpr std::size_t kRaggedLines = 15;
constexpr double kMostBetween = 0.3;        // amplitude from line to line, relative (scales: 0.25),
constexpr double kMostBetweenOfEven = 0.5;  // or of many sharp lines that lie so evenly: some are worn or badly filled;
                                            // in a wave they may stand for unlike numbers of finer lines
constexpr double kEvenOfMany = 0.004;       // of the pitch, about even spacing,
constexpr std::size_t kLinesIfEven = 9;     // or fewer lines
constexpr double kEvenOfThem = 0.002;       // that lie more evenly,
constexpr double kEvenOfFew = 0.0005;       // and the fewer the more
constexpr double kMostGround = 0.2;         // ground from line to line, of their contrast (scales: 0.13)
constexpr double kMostMisfit = 0.3;         // of a line from the common profile, of the contrast (scales: 0.28),
constexpr double kMostDenseMisfit = 0.5;    // and where a window holds few pixels (scales: 0.35),
constexpr double kDenserMisfit = 0.3;       // more for each pixel below four (scales: 0.66 at three pixels)
constexpr double kBarely = 1.2;             // times that, where they are lines all the same
constexpr double kLeastEvenness = 0.5;      // of such lines in turns
constexpr double kMostDrift = 0.15;         // between the profiles at both ends, of the contrast (scales: 0.11),
constexpr double kDriftByChance = 2.0;      // or by so many standard deviations where lines are unlike by chance
constexpr double kMostStrays = 0.2;         // lines with strong edges off the lattice beside them
constexpr double kMostTogether = 1.6;       // sum of squares of the above over their limits
constexpr double kMostTogetherOfFew = 0.4;  // the same for fewer than seven lines
constexpr double kFreeAttempts = 2.0;       // beyond them the limit of the sum falls with their number
constexpr int kMeagreAttempts = 4;          // in which few or stumpy lines count
constexpr std::size_t kManyLines = 10;
constexpr double kStumpy = 0.65, kLong = 1.5;  // length over pitch
constexpr std::size_t kFewestEven = 5;
constexpr double kEven = 0.001;               // of the pitch, about even spacing
constexpr double kMostChangeAcross = 0.2;     // of the pitch, per diagonal of the picture
constexpr double kLeastBlur = 0.15;           // pixels: a pixel alone blurs by 0.29
constexpr double kLeastBlurredPeriod = 14.0;  // pixels: shorter ones are sines by their pixels, not by defocus
constexpr double kBlurAlone = 6.0;            // pixels: beyond what a focused microscope shows,
constexpr double kBlurHidingParts = 0.06;     // and of the period, enough to hide a division by five
constexpr double kBlurHidingTens = 0.03;      // the same, by ten
constexpr double kPeriodShowingParts = 15.0;  // pixels: a fifth of it takes three
constexpr double kMostMissing = 0.35;         // of the places,
constexpr double kMostMissingOfFew = 0.3;     // and where there are few lines: letters of one width stand like them
constexpr double kMostCurvature = 1e-4;       // per pixel: a radius of 5000 pixels; distorted fields stay at 5e-5
constexpr double kLeastSagitta = 0.3;         // pixels, for a curvature to count
constexpr double kMostWander = 0.35;          // pixels, of the pieces of a line about it (scales: 0.2),
constexpr double kMostWanderOfPitch =
    0.02;                          // or of the pitch, where lines are cut or printed raggedly (scales: 0.015),
constexpr double kMostCurl = 0.5;  // of the wander
constexpr double kMostCurledOfPitch = 0.015;  // of the pitch, of many even lines: scratched over, or not cut straight,
constexpr double kEvenIfCurled = 0.012;       // as this is, of the pitch, about even spacing
constexpr double kWanderOverNoise = 6.0;      // where that is not noise
constexpr double kMostRagged = 0.2;           // scatter of the lines' ends, of their length
constexpr double kMostInTurns = 0.25;         // share of spaces crossed in turns
constexpr double kMostBroken = 0.7;           // share of spaces crossed by themselves
constexpr double kMostGaps = 0.15;            // share of the lines' length
constexpr double kMostRounded = 0.06;         // of the contrast (scales: 0.056),
constexpr double kMostRoundedOfMany = 0.05;   // or of many lines that are not dense (scales: 0.045; discs: 0.055)
constexpr double kCrossing = 0.2;  // of the contrast: spots change so much (0.3), and so do nets; ragged edges 0.13
constexpr double kRoundedPitch = 12.0;                        // pixels
constexpr double kMostWoven = 0.1, kMostWovenOfPitch = 0.01;  // pixels; of the pitch (scales: 0.035 pixels)
constexpr int kMostElsewhere = 1;                             // lines of the same look off the division, near its ends
constexpr int kMostElsewhereOfSines = 3;  // and where blur makes them waves, of which any part looks alike
constexpr double kCodingContrast = 0.03;  // of white

// What to do next is the same for all of them: the lines were found, but something else is in the way.
Failure failure(const char* code, const std::string& message) {
  return {"graduations", code,
          message + "; if a scale is in view, give only its part of the picture or take a sharper, evenly lit one"};
}

std::string percent(double share) {
  std::ostringstream out;
  out.imbue(std::locale::classic());
  out << std::fixed << std::setprecision(share < 0.1 ? 1 : 0) << 100.0 * share << " %";
  return out.str();
}

// Largest sagitta of a line over its own length, pixels, by the bend that stands out of the noise.
double bow_of(const Graduations& g) {
  double largest = 0.0;
  for (std::size_t l = 0; l < g.lines.size(); ++l) {
    const double half = 0.5 * (g.lines[l].v_high - g.lines[l].v_low);
    largest = std::max(largest, std::abs(g.bend.bow + g.bend.bow_fan * g.z_of(l)) * half * half);
  }
  return largest;
}

// How far the pieces of a line lie off it, pixels, beyond what the noise does to them.
double wander_of(const Graduations& g, double noise) {
  if (g.window_sigma < kWanderOverNoise * noise) return 0.0;
  std::vector<double> scatters;
  for (const MeasuredLine& line : g.lines)
    if (line.windows > 0) scatters.push_back(line.sigma * std::sqrt(line.windows));
  return numeric::upper_median(std::move(scatters));
}

// The part of it that neighbouring pieces have in common, pixels: a curve. Ragged edges go their own way from piece to
// piece.
double curl_of(const Graduations& g) {
  std::map<std::pair<std::size_t, int>, double> off;  // by line and strip
  std::vector<double> mean(g.lines.size(), 0.0), count(mean);
  for (const LineWindow& w : g.windows)
    if (w.used) off[{w.line, w.strip}] = w.fit.shift, mean[w.line] += w.fit.shift, count[w.line] += 1.0;
  double products = 0.0, pairs = 0.0;
  for (const auto& [place, shift] : off) {
    const auto next = off.find({place.first, place.second + 1});
    if (next == off.end()) continue;
    const double usual = mean[place.first] / count[place.first];
    products += (shift - usual) * (next->second - usual), pairs += 1.0;
  }
  return pairs > 0.0 ? std::sqrt(std::max(0.0, products / pairs)) * std::cos(g.angle) : 0.0;
}

// `even`: many lines at distances so alike that no threads lie there.
bool wanders(const Graduations& g, double noise, bool even) {
  const double wander = wander_of(g, noise);
  return wander > std::max(kMostWander, kMostWanderOfPitch * g.period) ||
         (wander > std::max(kMostWander, even ? kMostCurledOfPitch * g.period : 0.0) &&
          curl_of(g) > kMostCurl * wander);
}

// The 8 x 8 blocks of JPEG: period 8 or 16, along the pixel axes, faint.
bool blocks_of_coding(const Graduations& g, double pitch, double contrast, double white) {
  const double blocks = pitch / 8.0;
  return std::abs(blocks - std::round(blocks)) < 0.002 && blocks < 8.5 && std::abs(g.angle) < 0.0005 &&
         contrast < kCodingContrast * white;
}

// Is every m-th place empty and are most others filled? Then the lines found are pairs or groups, not a division.
bool empty_in_turns(const Graduations& g) {
  const int first = g.lines.front().index, last = g.lines.back().index;
  for (const int m : {2, 3, 4, 5, 10}) {
    std::vector<double> filled(static_cast<std::size_t>(m), 0.0), places(filled);
    for (int i = first; i <= last; ++i) places[static_cast<std::size_t>((i - first) % m)] += 1.0;
    for (const MeasuredLine& line : g.lines) filled[static_cast<std::size_t>((line.index - first) % m)] += 1.0;
    for (int c = 0; c < m; ++c)
      if (places[static_cast<std::size_t>(c)] >= 3.0 && filled[static_cast<std::size_t>(c)] == 0.0) return true;
  }
  return false;
}

struct Likeness {
  double residual, along, fine, between, ground, misfit, drift, strays, most_misfit, most_drift, most_fine,
      most_between;
  double together() const {
    const auto part = [](double value, double limit) { return value / limit * (value / limit); };
    return part(residual, kMostResidual) + part(along, kMostAlong) + part(between, most_between) +
           part(ground, kMostGround) + part(misfit, most_misfit) + part(drift, most_drift) + part(strays, kMostStrays) +
           part(std::max(0.0, fine - kMostFine), kMostFineOfMany - kMostFine);
  }
};

double most_misfit(double period) {
  return period < kDensePeriod ? kMostDenseMisfit + kDenserMisfit * std::max(0.0, 4.0 - period) : kMostMisfit;
}

double most_drift(const ShapeDrift& drift) { return std::hypot(kMostDrift, kDriftByChance * drift.by_chance); }

// Few lines, or lines hardly longer than they lie apart: text, weave, rings and rows of spots have such by accident.
// Few long lines that lead the search and lie even to a thousandth are no accident: they differ by what is drawn over
// them.
bool meagre(const Graduations& g, std::size_t used, double residual, int attempt) {
  const double length = usual_length(g);
  const bool even = attempt == 1 && used >= kFewestEven && residual < kEven && length > kLong;
  return length < kStumpy || (used < kFewLines && !even);
}

// Do the lines lie so evenly that their contrast may differ? The fewer they are the more is asked.
bool even_for_their_number(std::size_t used, double residual) {
  if (used < kFewLines) return false;
  return residual < (used >= kRaggedLines ? kEvenOfMany : used >= kLinesIfEven ? kEvenOfThem : kEvenOfFew);
}

// One of the measures by itself beyond its limit.
std::optional<Failure> beyond_a_limit(const Likeness& like) {
  if (like.along > kMostAlong)
    return failure("no-ruling", "evenly spaced marks were found, but they change by " + percent(like.along) +
                                    " along their length: no ruled lines");
  if (like.fine > like.most_fine)
    return failure("no-ruling", "evenly spaced marks were found, but they change by " + percent(like.fine) +
                                    " within a few pixels of their length: no ruled lines");
  if (like.between > like.most_between)
    return failure("no-ruling", "evenly spaced marks were found, but their contrast differs by " +
                                    percent(like.between) + " from one to the next");
  if (like.ground > kMostGround)
    return failure("no-ruling", "evenly spaced marks were found, but the ground between them differs by " +
                                    percent(like.ground) + " of their contrast");
  if (like.misfit > like.most_misfit)
    return failure("irregular", "evenly spaced marks were found, but their profiles differ by " + percent(like.misfit) +
                                    " of their contrast");
  if (like.drift > like.most_drift)
    return failure("irregular", "the profile of the lines changes by " + percent(like.drift) +
                                    " of their contrast from one end to the other");
  if (like.strays > kMostStrays)
    return failure("irregular", "strong edges lie off the even lines: a ruling has nothing between its graduations");
  return std::nullopt;
}

std::optional<Failure> unlike(const Likeness& like, bool meagre, int attempt) {
  if (auto beyond = beyond_a_limit(like)) return beyond;
  const double chances = std::pow(std::max(1.0, static_cast<double>(attempt) / kFreeAttempts), 1.5);
  if ((meagre && attempt > kMeagreAttempts) ||
      like.together() > (meagre ? kMostTogetherOfFew : kMostTogether) / chances)
    return failure(
        "irregular",
        "evenly spaced marks were found, but they are too unlike one another for the graduations of one scale");
  return std::nullopt;
}

// Of dense lines, whose windows hold few pixels: no ruling by their profiles, but by all else.
bool barely_unlike(Likeness like, double period) {
  const double misfit = std::exchange(like.misfit, 0.0);
  return period < kDensePeriod && misfit > like.most_misfit && misfit < kBarely * like.most_misfit &&
         !beyond_a_limit(like);
}

}  // namespace

Blur blur_of(const ImageView& image, const Graduations& g) {
  // Pixels across the lines, whatever way they run.
  const double period = g.period * std::cos(g.angle), edges = g.shape.blur * std::cos(g.angle), blur = edges / period;
  if (edges < kLeastBlur) return {};
  const bool hides_parts = blur > kBlurHidingParts || period <= kPeriodShowingParts;
  const HiddenLines hidden = hides_parts ? hidden_lines(image, g) : HiddenLines{};
  if (hidden.verdict == HiddenLines::Verdict::present) {
    const int parts = parts_of_block(image, g, hidden.block, hidden.ink);
    if (parts > 1) return {std::nullopt, parts};
    return {failure("too-blurred", "finer lines lie between those that were found, blurred into one another"), 1, true};
  }
  if (blur > kBlurHidingTens && broad_band(image, g, contrast_of(g)))
    return {failure("too-blurred",
                    "a band broader than a line lies across the spaces: finer lines may be blurred together in it"),
            1, true, true};
  if (hidden.verdict == HiddenLines::Verdict::possible &&
      (edges > kBlurAlone || (period > kLeastBlurredPeriod && blur > kSineBlur)))
    return {failure("too-blurred", "the lines run into each other, so that finer ones between them could not be seen")};
  return {};
}

std::optional<Failure> too_distorted(const Graduations& g, const LineFit& fit, double diagonal) {
  const double pitch = std::abs(fit.pitch), change = (fit.local_pitch_high - fit.local_pitch_low) / pitch;
  const double span = (g.lines.back().index - g.lines.front().index) * pitch;
  if (change > std::min(kMostPitchChange, kMostChangeAcross * span / diagonal))
    return failure("irregular", "the distance of the lines changes by " + percent(change) + " over the field");
  const double curvature = 2.0 * (std::abs(g.bend.bow) + std::abs(g.bend.bow_fan)), sagitta = bow_of(g);
  if (curvature > kMostCurvature && sagitta > kLeastSagitta)
    return failure("irregular", "the lines are curved: rings, or a field far too distorted to have one scale");
  return std::nullopt;
}

bool too_scattered(const LineFit& fit) {
  const auto used = static_cast<std::size_t>(std::count(fit.used.begin(), fit.used.end(), true));
  return !(fit.residual_rms < (used < kRaggedLines ? kMostResidual : kMostResidualOfMany) * std::abs(fit.pitch));
}

Implausible implausible(const ImageView& image, const Graduations& g, const LineFit& fit, double noise, double diagonal,
                        int attempt) {
  const double pitch = std::abs(fit.pitch), contrast = contrast_of(g);
  if (g.shape.blur < kLeastBlur) return {failure("irregular", "the lines found have no common profile")};
  const double blur = g.shape.blur / g.period;
  const auto used = std::count(fit.used.begin(), fit.used.end(), true);
  const double places = g.lines.back().index - g.lines.front().index + 1.0;
  const double missing = 1.0 - static_cast<double>(used) / places;
  if (missing > (static_cast<std::size_t>(used) < kManyLines ? kMostMissingOfFew : kMostMissing))
    return {failure("irregular", percent(missing) + " of the places where lines should be are empty or off")};
  if (empty_in_turns(g))
    return {failure(
        "irregular",
        "every second, third, fourth, fifth or tenth line is missing: these are groups of lines, not a division")};
  if (auto distorted = too_distorted(g, fit, diagonal)) return {std::move(distorted)};
  const double residual = fit.residual_rms / pitch;
  if (wanders(g, noise, static_cast<std::size_t>(used) >= kManyLines && residual < kEvenIfCurled))
    return {failure("irregular", "the lines are not straight: rings or threads")};
  if (blocks_of_coding(g, pitch, contrast, image.white))
    return {failure("no-ruling", "the only even pattern is the 8 pixel raster that JPEG coding leaves")};
  if (too_scattered(fit))
    return {
        failure("irregular", "the lines scatter by " + percent(residual) + " of their distance about even spacing")};
  if (g.period < kDensePeriod && evenness_in_turns(g) < kLeastEvenness)
    return {failure("irregular", "some places of the division are empty in turns: these are groups of lines")};
  const FineLook fine = look_finely(image, g, contrast, noise);
  const bool clear = static_cast<std::size_t>(used) >= kManyLines && pitch > kRoundedPitch;
  const bool spots = fine.crossing > kCrossing && fine.rounded > (clear ? kMostRoundedOfMany : kMostRounded);
  if (fine.broken > kMostBroken || fine.in_turns > kMostInTurns)
    return {failure("no-ruling",
                    "the spaces between the lines are filled in turns, as in brickwork or cloth: no ruled scale"),
            spots};
  if (fine.gaps > kMostGaps)
    return {failure("no-ruling", "the ground shows through " + percent(fine.gaps) +
                                     " of the lines' length: rows of dots or dashes, no ruled lines"),
            spots};
  if (spots || (usual_length(g) < kStumpy && next_rows(image, g)))
    return {failure("no-ruling", "the lines change their width from place to place: rows of spots, no ruled lines"),
            true};
  if (fine.woven > std::max(kMostWoven, kMostWovenOfPitch * pitch))
    return {failure("no-ruling", "the lines give way by turns with their neighbours, as yarns do: no ruled lines")};
  if (raggedness(g) > kMostRagged)
    return {failure("irregular", "the lines end at places without order, as threads do: no graduations")};
  const int elsewhere = lines_elsewhere(g);
  if (elsewhere > (blur > kSineBlur ? kMostElsewhereOfSines : kMostElsewhere))
    return {failure("irregular", "lines just like these go on beyond the last ones with another spacing")};
  const bool many = static_cast<std::size_t>(used) >= kRaggedLines;
  const bool even = even_for_their_number(static_cast<std::size_t>(used), residual);
  const bool few = meagre(g, static_cast<std::size_t>(used), residual, attempt);
  const ShapeDrift drift = shape_drift(g);
  const Likeness like{residual,
                      scatter_along(g, noise),
                      fine.along,
                      scatter_between(g),
                      scatter_of_ground(g) / contrast,
                      misfit(g, contrast, noise),
                      drift.value,
                      strays(image, g),
                      most_misfit(g.period),
                      few ? kMostDrift : most_drift(drift),
                      many ? kMostFineOfMany : kMostFine,
                      even && blur < kSineBlur ? kMostBetweenOfEven : kMostBetween};
  return {unlike(like, few, attempt), false, barely_unlike(like, g.period)};
}

}  // namespace scale
