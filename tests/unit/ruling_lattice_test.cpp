#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <vector>

#include <scale/units.h>

#include "ruling/division.h"
#include "ruling/edges.h"
#include "ruling/lattice.h"
#include "ruling/spectrum.h"
#include "support/within.h"

using namespace scale;

namespace {

std::vector<Edge> every(double pitch, int count, double from) {
  std::vector<Edge> edges;
  for (int i = 0; i < count; ++i) edges.push_back({from + pitch * i, 1.0});
  return edges;
}

}  // namespace

TEST_CASE("A lattice survives missing and foreign edges") {
  std::vector<Edge> edges = every(13.37, 40, 5.0);
  edges.erase(edges.begin() + 20, edges.begin() + 22);
  edges.erase(edges.begin() + 7);
  edges.insert(edges.begin() + 3, Edge{5.0 + 13.37 * 2.4, 1.0});
  const Lattice lattice = best_lattice(edges, 13.2, 1000.0);
  REQUIRE(lattice.index.size() == 37);
  CHECK(lattice.index.back() == 39);
  CHECK(within(lattice.pitch, 13.37, 1e-9));
  CHECK(lattice.log10_false_alarms < -20.0);
}

TEST_CASE("Edges strewn without order make no certain lattice") {
  std::vector<Edge> edges;
  double s = 0.0;
  for (int i = 0; i < 60; ++i) edges.push_back({s += 4.0 + 19.0 * std::fmod(0.7548776662466927 * (i + 1), 1.0), 1.0});
  for (const double pitch : candidate_pitches({edges, {}}, 8)) {
    const Lattice lattice = best_lattice(edges, pitch, 1000.0);
    CHECK((lattice.index.empty() || lattice.log10_false_alarms > -4.0));
  }
}

TEST_CASE("The distance most neighbours have is the first candidate") {
  const std::vector<double> pitches = candidate_pitches({every(21.5, 30, 3.0), every(21.5, 30, 9.0)}, 8);
  REQUIRE(!pitches.empty());
  CHECK(within(pitches.front(), 21.5, 0.5));
}

// The discrete Fourier transform by its definition, as the reference for the fast one.
TEST_CASE("The amplitude spectrum is that of a direct transform") {
  std::vector<float> series(150);
  for (std::size_t i = 0; i < series.size(); ++i)
    series[i] = static_cast<float>(3.0 * std::sin(2.0 * kPi * static_cast<double>(i) / 9.7) +
                                   0.01 * static_cast<double>(i % 13));
  const Spectrum spectrum = amplitude_spectrum(series);
  const double n = static_cast<double>(series.size());
  double window_sum = 0.0;
  for (std::size_t i = 0; i < series.size(); ++i)
    window_sum += 0.5 - 0.5 * std::cos(2.0 * kPi * (static_cast<double>(i) + 0.5) / n);
  for (std::size_t j = 1; j + 1 < spectrum.frequency.size(); j += 7) {
    std::complex<double> sum = 0.0;
    for (std::size_t i = 0; i < series.size(); ++i) {
      const double window = 0.5 - 0.5 * std::cos(2.0 * kPi * (static_cast<double>(i) + 0.5) / n);
      sum += window * static_cast<double>(series[i]) *
             std::polar(1.0, -2.0 * kPi * spectrum.frequency[j] * static_cast<double>(i));
    }
    CHECK(within(spectrum.amplitude[j], 2.0 * std::abs(sum) / window_sum, 1e-4));
  }
  const std::vector<double> periods = spectral_periods(spectrum, 3);
  REQUIRE(!periods.empty());
  CHECK(within(periods.front(), 9.7, 0.05));
}

TEST_CASE("The division behind a period is found in the one band that shows it") {
  // Lines every 10 bins in the upper half of the picture, every 50 in the lower.
  const int width = 600, height = 200;
  std::vector<std::uint8_t> samples(static_cast<std::size_t>(width * height), 200);
  for (int y = 0; y < height; ++y)
    for (int x = 5; x < width; x += y < height / 2 ? 10 : 50)
      for (int w = 0; w < 3; ++w) samples[static_cast<std::size_t>(y * width + std::min(width - 1, x + w))] = 40;
  const ImageView view{samples.data(), width, height, width, SampleType::u8, 255.0};
  const BandSums sums(strips_over(view, 0.0, 4.0, along_range(view, 0.0)), 32);
  Hypothesis every_fifth;
  every_fifth.lattice.pitch = 50.0;
  for (int i = 0; i < 11; ++i) {
    every_fifth.lattice.index.push_back(i);
    every_fifth.lattice.position.push_back(5.0 + 50.0 * i);
  }
  const Hypothesis finest = finest_division(sums, every_fifth);
  CHECK(within(finest.lattice.pitch, 10.0, 1e-9));
  CHECK(finest.lattice.index.back() == 50);
  CHECK(finest.v_high <= 0.5 * height + 8.0);
}
