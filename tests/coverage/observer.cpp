#include "observer.h"

#include <micrograph/random.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace coverage {
namespace {

constexpr double kDivisionUm = 10.0;
constexpr int kDivisions = 100;         // of either scale
constexpr double kCoincidenceUm = 0.5;  // what the tool takes for a micrometer of 10 um, a twentieth
constexpr double kScaleError = 5e-4;    // standard, relative

struct Eye {
  micrograph::Random random;
  double um_per_division = 0.0;  // by the micrometer's own, slightly wrong, micrometres
  double parallax = 0.0;         // limits, reticle divisions
  double coincidence_um = 0.0;   // limits within which lines look like one, to a tenth
  double offset_um = 0.0;        // of the reticle's zero line

  double uniform(double limits) { return random.uniform(-limits, limits); }
  double at(int line) { return offset_um + um_per_division * (line + uniform(parallax)); }

  // Does the line look as if it lay on a graduation? Which one?
  struct Look {
    int graduation = 0;
    bool coincides = false;
  };
  Look look(int line) {
    const double position = at(line);
    Look seen;
    seen.graduation = static_cast<int>(std::lround(position / kDivisionUm));
    const double off_um = std::abs(position - seen.graduation * kDivisionUm);
    seen.coincides = off_um <= coincidence_um * random.uniform(0.9, 1.1);
    return seen;
  }
  int last_line() const { return std::min(kDivisions, static_cast<int>(kDivisions * kDivisionUm / um_per_division)); }
  void set_zero_lines() { offset_um = uniform(coincidence_um); }
};

scale::EyeReading reading(int line, int graduation, int series) {
  return {static_cast<double>(line), static_cast<double>(graduation), false, false, series};
}

// One of the pairs between two lines that look like one: the eye cannot tell which of them is best.
std::optional<scale::EyeReading> any_between(Eye& eye, int from, int to, int series) {
  std::vector<scale::EyeReading> found;
  for (int line = from; line <= to; ++line) {
    const Eye::Look seen = eye.look(line);
    if (seen.coincides && seen.graduation <= kDivisions) found.push_back(reading(line, seen.graduation, series));
  }
  if (found.empty()) return std::nullopt;
  return found[static_cast<std::size_t>(eye.random.integer(0, static_cast<int>(found.size()) - 1))];
}

// Where no lines coincide a fraction is estimated and written to a tenth: together as uncertain as limits of a tenth.
scale::EyeReading estimated(Eye& eye, int line, int series) {
  const double seen = eye.at(line) / kDivisionUm + eye.uniform(0.085);
  return {static_cast<double>(line), std::clamp(std::round(seen * 10.0) / 10.0, 0.0, 100.0), false, true, series};
}

using Readings = std::vector<scale::EyeReading>;

// The zero lines and a pair of the last third.
void read_ends(Eye& eye, Readings& readings, int series) {
  eye.set_zero_lines();
  readings.push_back(reading(0, 0, series));
  const int last = eye.last_line();
  readings.push_back(any_between(eye, 2 * last / 3, last, series).value_or(estimated(eye, last, series)));
}

// A pair of every fifth part.
void read_along(Eye& eye, Readings& readings, int series) {
  eye.set_zero_lines();
  readings.push_back(reading(0, 0, series));
  const int last = eye.last_line();
  for (int part = 1; part < 5; ++part)
    if (const auto best = any_between(eye, part * last / 5 + 1, (part + 1) * last / 5, series))
      readings.push_back(*best);
  if (readings.back().reticle == 0.0) readings.push_back(estimated(eye, last, series));
}

// Every pair that looks like one line, runs and all.
void read_all(Eye& eye, Readings& readings, int series) {
  eye.set_zero_lines();
  readings.push_back(reading(0, 0, series));
  const int last = eye.last_line();
  for (int line = 1; line <= last; ++line) {
    const Eye::Look seen = eye.look(line);
    const bool grows = seen.graduation > readings.back().micrometer && seen.graduation <= kDivisions;
    if (seen.coincides && grows) readings.push_back(reading(line, seen.graduation, series));
  }
  if (readings.back().reticle < 0.5 * last) readings.push_back(estimated(eye, last, series));
}

void read_fractions(Eye& eye, Readings& readings, int series) {
  eye.set_zero_lines();
  const int last = eye.last_line();
  readings.push_back(reading(0, 0, series));
  for (int part = 1; part <= 4; ++part) readings.push_back(estimated(eye, part * last / 4, series));
}

Observed begun(Eye& eye, double um_per_division) {
  Observed observed;
  observed.true_um_per_division = um_per_division;
  observed.scale.division = {kDivisionUm};
  observed.scale.divisions = kDivisions;
  observed.scale.uncertainty = scale::CertifiedUncertainty{{}, 2.0 * kScaleError};
  observed.conditions.reticle_divisions = kDivisions;
  observed.conditions.parallax = eye.parallax;
  return observed;
}

// Any ratio; one near 1, with a beat over the field; one near a simple fraction.
double drawn_ratio(micrograph::Random& random) {
  const double kind = random.uniform(0.0, 1.0);
  if (kind < 0.6) return std::exp(random.uniform(std::log(0.1), std::log(2.5)));
  if (kind < 0.8) return 1.0 + random.uniform(-0.04, 0.04);
  const double simple[] = {0.25, 0.5, 2.0 / 3.0, 0.75, 1.25, 1.5, 2.0};
  return simple[random.integer(0, 6)] * (1.0 + random.uniform(-0.01, 0.01));
}

}  // namespace

Observed observe(std::uint64_t seed) {
  Eye eye{micrograph::Random(seed)};
  const double um_per_division = kDivisionUm * drawn_ratio(eye.random);
  eye.um_per_division = um_per_division * (1.0 + kScaleError * eye.random.normal());
  eye.parallax = eye.random.uniform(0.0, 0.06);
  eye.coincidence_um = std::max(kCoincidenceUm, 0.05 * um_per_division);
  Observed observed = begun(eye, um_per_division);
  const int habit = static_cast<int>(seed % kHabits);
  const char* names[kHabits] = {"zero and far end", "five parts",        "every coincidence",
                                "fractions",        "ends, three times", "five parts, twice"};
  observed.habit = names[habit];
  const auto read = habit == 0 || habit == 4   ? read_ends
                    : habit == 1 || habit == 5 ? read_along
                    : habit == 2               ? read_all
                                               : read_fractions;
  const int times = habit == 4 ? 3 : habit == 5 ? 2 : 1;
  for (int series = 0; series < times; ++series) read(eye, observed.readings, series);
  return observed;
}

}  // namespace coverage
