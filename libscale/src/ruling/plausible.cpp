#include "ruling/plausible.h"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "numeric/robust.h"

namespace scale {

namespace {

// Limits between what 99 % of rendered and real scales keep and what pictures without a scale show; the accuracy suite
// measures both rates.
constexpr double kMostResidual = 0.02;        // of the pitch, about even spacing (scales: 0.009)
constexpr double kMostPitchChange = 0.08;     // of the pitch, over the field (scales: 0.06)
constexpr double kMostAlong = 0.25;           // amplitude along a line, relative
constexpr double kMostFine = 0.14;            // the same over single strips of three pixels (scales: 0.025)
constexpr double kMostBetween = 0.2;          // amplitude from line to line, relative (scales: 0.12)
constexpr double kMostGround = 0.2;           // ground between the lines, of their contrast (scales: 0.13)
constexpr double kMostMisfit = 0.3;           // of a line from the common profile, of the contrast (scales: 0.28)
constexpr double kMostDrift = 0.2;            // between the profiles at both ends, of the contrast (scales: 0.08)
constexpr double kMostStrays = 0.25;          // strong edges off the lattice, per line (scales: 0.06)
constexpr double kMostTogether = 1.6;         // sum of squares of the above over their limits
constexpr double kMostTogetherOfFew = 0.4;    // the same for fewer than seven lines
constexpr double kLeastBlur = 0.15;           // bins: a pixel alone blurs by 0.29
constexpr double kSineBlur = 0.1225;          // of the period; a sine, all harmonics lost, has 0.127
constexpr double kLeastBlurredPeriod = 14.0;  // bins: shorter ones are sines by their pixels, not by defocus
constexpr double kBlurAlone = 6.0;            // bins: beyond what a focused microscope shows,
constexpr double kBlurHidingParts = 0.07;     // and of the period, enough to hide a division by five
constexpr double kMostMissing = 0.35;         // of the places
constexpr double kMostCurvature = 1e-4;       // per pixel: a radius of 5000 pixels; distorted fields stay at 5e-5
constexpr double kLeastSagitta = 0.3;         // pixels, for a curvature to count
constexpr double kMostBroken = 0.03;          // strips in which a part of the spaces is filled, of all
constexpr double kFineHeight = 3.0;           // pixels: strips fine enough for the yarns of a cloth
constexpr int kMostFineStrips = 160;
constexpr double kCodingContrast = 8.0;  // grey values

// What to do next is the same for all of them: the lines were found, but something else is in the way.
Failure failure(const char* code, const std::string& message) {
  return {"graduations", code,
          message + "; if a scale is in view, give only its part of the picture or take a sharper, evenly lit one"};
}

std::string percent(double share) {
  std::ostringstream out;
  out.imbue(std::locale::classic());
  out.precision(2);
  out << 100.0 * share << " %";
  return out.str();
}

double contrast_of(const Graduations& g) {
  std::vector<double> amplitudes;
  for (const MeasuredLine& line : g.lines) amplitudes.push_back(std::abs(line.amplitude));
  return numeric::upper_median(amplitudes);
}

// Very fine strips over the middle of the ruling: what a window of many rows averages away.
struct FineLook {
  double along = 0.0;   // robust relative scatter of the amplitude along the lines, beyond pixel noise
  double broken = 0.0;  // share of strips in which some, but not all, spaces between lines are filled
};

FineLook look_finely(const ImageView& image, const Graduations& g, double contrast, double noise) {
  StripLayout layout = g.strips.layout;
  double low = g.lines.front().v_low, high = g.lines.front().v_high;
  for (const MeasuredLine& line : g.lines) low = std::max(low, line.v_low), high = std::min(high, line.v_high);
  const double reach = 0.5 * kFineHeight * kMostFineStrips;
  layout.v0 = std::max(low, g.v_reference - reach);
  layout.count = static_cast<int>((std::min(high, g.v_reference + reach) - layout.v0) / kFineHeight);
  layout.height = kFineHeight;
  layout.phases = 1;
  FineLook look;
  if (layout.count < 3) return look;
  Graduations fine = g;
  fine.strips = sum_strips(image, layout);
  const LineShape shape = g.shape.window < 5.0 ? repeated(g.shape, g.period, 3.0) : g.shape;
  const std::size_t lines = g.lines.size(), strips = static_cast<std::size_t>(layout.count);
  std::vector<double> ground(lines * strips, 0.0), deviations;
  std::vector<bool> known(lines * strips, false);
  double variance = 0.0;
  for (std::size_t l = 0; l < lines; ++l) {
    std::vector<double> amplitudes, grounds;
    for (std::size_t k = 0; k < strips; ++k) {
      const double centre = fine.centre(l, static_cast<int>(k));
      if (const auto fit = fit_window(fine.strips, static_cast<int>(k), centre, shape, {})) {
        amplitudes.push_back(fit->amplitude);
        variance += noise * noise / std::max(1e-9, fit->amplitude_information);
      }
      if (const auto level =
              mean_around(fine.strips, static_cast<int>(k), centre + 0.5 * g.period, std::max(1.0, 0.15 * g.period))) {
        grounds.push_back(*level);
        ground[l * strips + k] = *level;
        known[l * strips + k] = true;
      }
    }
    const double usual = numeric::upper_median(amplitudes), usual_ground = numeric::upper_median(grounds);
    for (const double a : amplitudes) deviations.push_back(std::abs(a - usual));
    for (std::size_t k = 0; k < strips; ++k) ground[l * strips + k] -= usual_ground;
  }
  if (deviations.empty()) return look;
  variance /= static_cast<double>(deviations.size());
  const double scatter = 1.4826 * numeric::upper_median(deviations);
  look.along = std::sqrt(std::max(0.0, scatter * scatter - 2.0 * variance)) / contrast;
  const double pixels = kFineHeight * 2.0 * std::max(1.0, 0.15 * g.period);
  const double filled = std::max(0.15 * contrast, 5.0 * noise / std::sqrt(pixels));
  for (std::size_t k = 0; k < strips; ++k) {
    double some = 0.0, all = 0.0, turns = 0.0;
    bool before = false;
    for (std::size_t l = 0; l < lines; ++l) {
      if (!known[l * strips + k]) continue;
      const bool now = std::abs(ground[l * strips + k]) > filled;
      turns += all > 0.0 && now != before ? 1.0 : 0.0;
      before = now;
      all += 1.0;
      some += now ? 1.0 : 0.0;
    }
    // In turns: dirt fills neighbours, numerals one space in ten.
    if (all >= 6.0 && some > 0.25 * all && some < 0.75 * all && turns > 0.4 * all)
      look.broken += 1.0 / static_cast<double>(strips);
  }
  return look;
}

// Robust relative scatter of the windows' amplitudes about their line's, beyond what noise explains.
double scatter_along(const Graduations& g, double noise) {
  std::vector<double> deviations;
  double variance = 0.0;
  for (const LineWindow& w : g.windows) {
    if (w.fit.pixels <= 0.0) continue;
    const double a = g.lines[w.line].amplitude;
    deviations.push_back(std::abs(w.fit.amplitude / a - 1.0));
    variance += 2.0 * noise * noise / (a * a * std::max(1e-12, w.fit.amplitude_information));
  }
  if (deviations.empty()) return 1.0;
  const double scatter = 1.4826 * numeric::upper_median(deviations);
  return std::sqrt(std::max(0.0, scatter * scatter - variance / static_cast<double>(deviations.size())));
}

double scatter_between(const Graduations& g) {
  std::vector<double> steps;
  for (std::size_t i = 1; i < g.lines.size(); ++i) {
    const double a = g.lines[i - 1].amplitude, b = g.lines[i].amplitude;
    steps.push_back(std::abs(b - a) / std::abs(0.5 * (a + b)));
  }
  return 1.4826 * numeric::upper_median(steps) / std::sqrt(2.0);
}

// How far the profile of the lines at one end of the ruling departs from that at the other, root mean square over the
// window, relative to the height of the line.
double shape_drift(const Graduations& g) {
  const std::size_t third = std::max<std::size_t>(1, g.lines.size() / 3);
  std::vector<FoldWindow> first, last;
  for (const LineWindow& w : g.windows) {
    if (w.fit.pixels <= 0.0 || (w.line >= third && w.line + third < g.lines.size())) continue;
    const double centre = g.centre(w.line, w.strip);
    (w.line < third ? first : last).push_back({w.strip, centre, w.fit.background, w.fit.amplitude, {}});
  }
  if (first.empty() || last.empty()) return 0.0;
  const LineShape a = fold_shape(g.strips, first, g.shape.window, 0.5, nullptr),
                  b = fold_shape(g.strips, last, g.shape.window, 0.5, nullptr);
  double sum = 0.0, count = 0.0;
  for (double t = -g.shape.window; t <= g.shape.window; t += a.step, count += 1.0)
    sum += std::pow(a.at(t).value - b.at(t).value, 2);
  return std::sqrt(sum / count);
}

// Root mean square departure of a line's windows from the common shape beyond noise, relative to the contrast: the
// value that four fifths of the lines keep.
double misfit(const Graduations& g, double contrast, double noise) {
  std::vector<double> sum(g.lines.size(), 0.0), count(g.lines.size(), 0.0), lines;
  for (const LineWindow& w : g.windows) {
    if (w.fit.pixels <= 0.0) continue;
    const double rows = std::max(1.0, w.fit.pixels / (2.0 * g.shape.window));
    sum[w.line] += std::max(0.0, w.fit.residual_variance - 1.5 * noise * noise) / rows;
    count[w.line] += 1.0;
  }
  for (std::size_t l = 0; l < sum.size(); ++l)
    if (count[l] > 0.0) lines.push_back(std::sqrt(sum[l] / count[l]) / contrast);
  if (lines.empty()) return 1.0;
  const auto at = lines.begin() + static_cast<std::ptrdiff_t>(0.8 * static_cast<double>(lines.size() - 1));
  std::nth_element(lines.begin(), at, lines.end());
  return *at;
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

// The 8 x 8 blocks of JPEG: period 8 or 16, along the pixel axes, faint.
bool blocks_of_coding(const Graduations& g, double pitch, double contrast) {
  const double blocks = pitch / 8.0;
  return std::abs(blocks - std::round(blocks)) < 0.002 && blocks < 8.5 && std::abs(g.angle) < 0.0005 &&
         contrast < kCodingContrast;
}

// Edges at least half as strong as the lines' own that lie in no common place of the division, per line.
double strays(const ImageView& image, const Graduations& g) {
  StripLayout layout = g.strips.layout;
  double low = g.lines.front().v_low, high = g.lines.front().v_high;
  for (const MeasuredLine& line : g.lines) low = std::max(low, line.v_low), high = std::min(high, line.v_high);
  if (high - low < 2.0) low = g.v_reference - 2.0, high = g.v_reference + 2.0;
  layout.v0 = low;
  layout.height = high - low;
  layout.count = layout.phases = 1;
  const Profile profile = band_profile(sum_strips(image, layout), low, high);
  if (profile.end - profile.begin < 8) return 0.0;
  const double smoothing = std::max(0.8, g.shape.blur);
  const Edges edges = edges_of(profile, edge_response(profile, smoothing), 0.0);
  const double step = std::abs(g.period);
  const double tolerance = std::max(1.0, 0.05 * step), first = g.lines.front().s - 0.5 * step,
               last = g.lines.back().s + 0.5 * step;
  double off = 0.0;
  for (const auto* set : {&edges.rising, &edges.falling}) {
    std::vector<double> phase, strength;
    for (const Edge& edge : *set) {
      if (edge.s < first || edge.s > last) continue;
      const auto nearest =
          std::min_element(g.lines.begin(), g.lines.end(), [&](const MeasuredLine& a, const MeasuredLine& b) {
            return std::abs(a.s - edge.s) < std::abs(b.s - edge.s);
          });
      phase.push_back(edge.s - nearest->s);
      strength.push_back(edge.strength);
    }
    if (strength.empty()) continue;
    std::vector<double> sorted = strength;
    const std::size_t lines = std::min(sorted.size(), g.lines.size());
    std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(lines / 2), sorted.end(),
                     std::greater<>());
    const double least = 0.5 * sorted[lines / 2];
    for (std::size_t i = 0; i < phase.size(); ++i) {
      if (strength[i] < least) continue;
      double fellows = 0.0;
      for (std::size_t j = 0; j < phase.size(); ++j)
        if (strength[j] >= least && std::abs(phase[j] - phase[i]) < tolerance) fellows += 1.0;
      off += fellows < 0.4 * static_cast<double>(g.lines.size()) ? 1.0 : 0.0;
    }
  }
  return 0.5 * off / static_cast<double>(g.lines.size());
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
  double residual, along, fine, between, ground, misfit, drift, strays;
  double together() const {
    const auto part = [](double value, double limit) { return value / limit * (value / limit); };
    return part(residual, kMostResidual) + part(along, kMostAlong) + part(between, kMostBetween) +
           part(ground, kMostGround) + part(misfit, kMostMisfit) + part(drift, kMostDrift) + part(strays, kMostStrays);
  }
};

std::optional<Failure> unlike(const Likeness& like, std::size_t lines) {
  if (like.residual > kMostResidual)
    return failure("irregular",
                   "the lines scatter by " + percent(like.residual) + " of their distance about even spacing");
  if (like.along > kMostAlong)
    return failure("no-ruling", "evenly spaced marks were found, but they change by " + percent(like.along) +
                                    " along their length: no ruled lines");
  if (like.fine > kMostFine)
    return failure("no-ruling", "evenly spaced marks were found, but they change by " + percent(like.fine) +
                                    " within a few pixels of their length: no ruled lines");
  if (like.between > kMostBetween)
    return failure("no-ruling", "evenly spaced marks were found, but their contrast differs by " +
                                    percent(like.between) + " from one to the next");
  if (like.ground > kMostGround)
    return failure("no-ruling", "evenly spaced marks were found, but the ground between them differs by " +
                                    percent(like.ground) + " of their contrast");
  if (like.misfit > kMostMisfit)
    return failure("irregular", "evenly spaced marks were found, but their profiles differ by " + percent(like.misfit) +
                                    " of their contrast");
  if (like.drift > kMostDrift)
    return failure("irregular", "the profile of the lines changes by " + percent(like.drift) +
                                    " of their contrast from one end to the other");
  if (like.strays > kMostStrays)
    return failure("irregular", "strong edges lie off the even lines: a ruling has nothing between its graduations");
  if (like.together() > (lines < 7 ? kMostTogetherOfFew : kMostTogether))
    return failure(
        "irregular",
        "evenly spaced marks were found, but they are too unlike one another for the graduations of one scale");
  return std::nullopt;
}

}  // namespace

std::optional<Failure> implausible(const ImageView& image, const Graduations& g, const LineFit& fit, double noise) {
  const double pitch = std::abs(fit.pitch), contrast = contrast_of(g);
  if (g.shape.blur < kLeastBlur) return failure("irregular", "the lines found have no common profile");
  const double blur = g.shape.blur / g.period;
  if ((g.shape.blur > kBlurAlone && blur > kBlurHidingParts) || (g.period > kLeastBlurredPeriod && blur > kSineBlur))
    return failure("too-blurred", "the lines run into each other, so that finer ones between them could not be seen");
  const auto used = std::count(fit.used.begin(), fit.used.end(), true);
  const double places = g.lines.back().index - g.lines.front().index + 1.0;
  if (static_cast<double>(used) < (1.0 - kMostMissing) * places)
    return failure("irregular", "more than a third of the places where lines should be are empty or off");
  if (empty_in_turns(g))
    return failure(
        "irregular",
        "every second, third, fourth, fifth or tenth line is missing: these are groups of lines, not a division");
  const double change = (fit.local_pitch_high - fit.local_pitch_low) / pitch;
  if (change > kMostPitchChange)
    return failure("irregular", "the distance of the lines changes by " + percent(change) + " over the field");
  const double curvature = 2.0 * (std::abs(g.bend.bow) + std::abs(g.bend.bow_fan)), sagitta = bow_of(g);
  if (curvature > kMostCurvature && sagitta > kLeastSagitta)
    return failure("irregular", "the lines are curved: rings, or a field far too distorted to have one scale");
  if (blocks_of_coding(g, pitch, contrast))
    return failure("no-ruling", "the only even pattern is the 8 pixel raster that JPEG coding leaves");
  const FineLook fine = look_finely(image, g, contrast, noise);
  if (fine.broken > kMostBroken)
    return failure("no-ruling",
                   "the spaces between the lines are filled in turns, as in brickwork or cloth: no ruled scale");
  const Likeness like{fit.residual_rms / pitch,        scatter_along(g, noise),    fine.along,     scatter_between(g),
                      g.scatter.background / contrast, misfit(g, contrast, noise), shape_drift(g), strays(image, g)};
  return unlike(like, g.lines.size());
}

}  // namespace scale
