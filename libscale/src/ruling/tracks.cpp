#include "ruling/tracks.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <oneapi/tbb/parallel_for.h>

#include "numeric/robust.h"

namespace scale {

namespace {

constexpr double kLeastAmplitude = 0.5;  // of the ruling's own, for a line or a window to count
constexpr double kMostAmplitude = 1.9;
constexpr double kCoreStrength = 0.8;   // of the strongest strip
constexpr std::size_t kCoreLines = 32;  // lines that a strip's strength is judged by, about
constexpr double kDensePeriods = 3.0;   // a window of so many periods reads them instead
constexpr double kBaseLine = 1.5;       // width over that of a graduation
constexpr int kMissesToStop = 3;        // empty places in a row that end a ruling
constexpr double kSmoothing = 0.3;      // bins, of the folded shape

std::size_t size_of(int n) { return static_cast<std::size_t>(n); }

LineShape first_shape(const Strips& band, double period, std::vector<Track>& tracks) {
  LineShape shape;
  for (int pass = 0; pass < 2; ++pass) {  // the second time around the line's centre instead of its edge
    std::vector<FoldWindow> windows;
    for (const Track& track : tracks)
      windows.push_back({0, track.s, mean_around(band, 0, track.s, 0.5 * period).value_or(0.0), 1.0, {}});
    shape = fold_shape(band, windows, 0.5 * period, kSmoothing);
    const double moved = normalise_shape(shape, period, true);
    for (Track& track : tracks) track.s += moved;
  }
  if (period < kDensePeriod) shape.window = 0.5 * period;
  return shape;
}

// The amplitude that three quarters of the lines reach: every second one may be longer than its neighbours.
double weaker_lines(std::vector<double> amplitudes) {
  const bool dark = numeric::upper_median(amplitudes) < 0.0;
  return dark ? -numeric::quantile(std::move(amplitudes), 0.75) : numeric::quantile(std::move(amplitudes), 0.25);
}

// The strips around the strongest one in which most lines are as strong: where all graduations, not only the long
// ones, are. A band of the period search may hold much besides.
StripRange core_of(const Strips& strips, StripRange band, const LineShape& shape, const std::vector<Track>& tracks) {
  std::vector<double> strength(size_of(band.to - band.from));
  const std::size_t stride = std::max<std::size_t>(1, tracks.size() / kCoreLines);
  oneapi::tbb::parallel_for(band.from, band.to, [&](int k) {
    std::vector<double> amplitudes;
    for (std::size_t i = 0; i < tracks.size(); i += stride) {
      const auto fit = fit_window(strips, k, tracks[i].s, shape, {});
      amplitudes.push_back(fit ? fit->amplitude : 0.0);
    }
    strength[size_of(k - band.from)] = weaker_lines(std::move(amplitudes));
  });
  const int top = static_cast<int>(std::max_element(strength.begin(), strength.end()) - strength.begin());
  const double least = kCoreStrength * strength[size_of(top)];
  int from = top, to = top + 1;
  while (from > 0 && strength[size_of(from - 1)] >= least) --from;
  while (size_of(to) < strength.size() && strength[size_of(to)] >= least) ++to;
  return {band.from + from, band.from + to};
}

// Newton steps from the best of a few starting places within +-reach, in one strip.
std::optional<WindowFit> seek_line(const Strips& band, double& centre, double reach, double period,
                                   const LineShape& shape) {
  std::optional<WindowFit> best;
  double best_centre = centre;
  const int starts =
      reach > 0.0 ? std::clamp(static_cast<int>(std::ceil(reach / std::max(0.5, 0.5 * shape.blur))), 1, 12) : 0;
  for (int i = -starts; i <= starts; ++i) {
    const double start = centre + (starts > 0 ? reach * i / starts : 0.0);
    const auto fit = fit_window(band, 0, start, shape, {});
    if (fit && (!best || fit->share > best->share)) best = fit, best_centre = start;
  }
  if (!best) return best;
  const double home = centre;
  centre = best_centre;
  for (int step = 0; step < 5; ++step) {
    best = fit_window(band, 0, centre, shape, {});
    if (!best) return std::nullopt;
    const double move = std::clamp(best->shift, -shape.blur - 0.5, shape.blur + 0.5);
    centre += move;
    if (std::abs(move) < 1e-3) break;
  }
  if (std::abs(centre - home) > reach + std::min(1.0, 0.1 * period)) return std::nullopt;
  return best;
}

// Where index n should be, from the nearest known lines.
double reckon(const std::vector<Track>& tracks, int index, double period) {
  std::vector<const Track*> near;
  for (const Track& track : tracks) near.push_back(&track);
  const std::size_t few = std::min<std::size_t>(8, near.size());
  std::partial_sort(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(few), near.end(),
                    [&](const Track* a, const Track* b) {
                      const int da = std::abs(a->index - index), db = std::abs(b->index - index);
                      return da != db ? da < db : a->index < b->index;
                    });
  double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (std::size_t i = 0; i < few; ++i) {
    const double x = near[i]->index - index, y = near[i]->s;
    n += 1.0, sx += x, sy += y, sxx += x * x, sxy += x * y;
  }
  const double spread = sxx - sx * sx / n;
  const double pitch = few >= 4 && spread > 0.0 ? (sxy - sx * sy / n) / spread : period;
  return (sy - pitch * sx) / n;
}

bool alike(double line, double amplitude) {
  const double ratio = line / amplitude;
  return ratio > kLeastAmplitude && ratio < kMostAmplitude;
}

void add_line(std::vector<Track>& tracks, int index, double s, double amplitude) {
  const auto at =
      std::lower_bound(tracks.begin(), tracks.end(), index, [](const Track& t, int i) { return t.index < i; });
  Track track;
  track.index = index;
  track.s = s;
  track.amplitude = amplitude;
  tracks.insert(at, track);
}

void complete_lines(const Strips& band, double period, const LineShape& shape, double amplitude,
                    std::vector<Track>& tracks) {
  const double reach = std::min(0.15 * period, 4.0 + 0.02 * period);
  const auto try_index = [&](int index) {
    double centre = reckon(tracks, index, period);
    const auto fit = seek_line(band, centre, reach, period, shape);
    if (!fit || !alike(fit->amplitude, amplitude)) return false;
    add_line(tracks, index, centre, fit->amplitude);
    return true;
  };
  for (int index = tracks.front().index + 1; index < tracks.back().index; ++index) {
    const bool known = std::any_of(tracks.begin(), tracks.end(), [&](const Track& t) { return t.index == index; });
    if (!known) try_index(index);
  }
  for (const int direction : {1, -1}) {
    int misses = 0;
    for (int index = (direction > 0 ? tracks.back() : tracks.front()).index + direction; misses < kMissesToStop;
         index += direction) {
      const double where = reckon(tracks, index, period);
      if (where < band.first || where > band.first + band.bins) break;
      misses = try_index(index) ? 0 : misses + 1;
    }
  }
}

// Walks from strip `start` in steps of `by` while the line keeps its amplitude, going with it where it leans or bows;
// bridges a few bad strips, as many as a base line fills, when two good ones follow. Returns the last good strip, start
// - by when there is none.
int walk_line(const Strips& strips, const LineShape& shape, double amplitude, double centre, int start, int by) {
  double drift = 0.0;  // of the centre per strip
  const int bridge =
      std::max(3, static_cast<int>(std::ceil((kBaseLine * shape.width + 4.0 * shape.blur) / strips.layout.height)));
  int last = start - by, bad = 0, good_again = 0;
  for (int k = start; k >= 0 && k < strips.layout.count && bad < bridge; k += by) {
    centre += drift;
    const auto fit = fit_window(strips, k, centre, shape, {});
    const double ratio = fit ? fit->amplitude / amplitude : 0.0;
    const bool good = fit && ratio > kLeastAmplitude && ratio < kMostAmplitude &&
                      std::abs(fit->shift) < 0.25 * shape.width + shape.blur + 0.5;
    if (!good) {
      ++bad;
      good_again = 0;
      continue;
    }
    centre += 0.4 * fit->shift;
    drift += 0.08 * fit->shift;
    if (bad > 0 && ++good_again < 2) continue;
    bad = good_again = 0;
    last = k;
  }
  return last;
}

// v range around the band over which the line keeps its amplitude.
void follow_line(const Strips& strips, StripRange band, const LineShape& shape, double amplitude, Track& track) {
  const int middle = (band.from + band.to) / 2;
  const int up = walk_line(strips, shape, amplitude, track.s, middle, 1);
  const int down = walk_line(strips, shape, amplitude, track.s, std::min(middle, up), -1);
  if (up < middle || down > middle) {
    track.v_low = track.v_high = 0.0;
    return;
  }
  track.v_low = strips.layout.v0 + down * strips.layout.height;
  track.v_high = strips.layout.v0 + (up + 1) * strips.layout.height;
}

// A line that goes on far beyond all others is one with something else there, the base line of a crossing scale say:
// it counts as far as the others could.
void trim_long_lines(std::vector<Track>& tracks) {
  std::vector<double> lows, highs, lengths;
  for (const Track& track : tracks) {
    lows.push_back(track.v_low);
    highs.push_back(track.v_high);
    lengths.push_back(track.v_high - track.v_low);
  }
  const double room = numeric::quantile(std::move(lengths), 0.8);
  const double low = numeric::quantile(std::move(lows), 0.2) - room,
               high = numeric::quantile(std::move(highs), 0.8) + room;
  for (Track& track : tracks) {
    track.v_low = std::max(track.v_low, low);
    track.v_high = std::min(track.v_high, high);
  }
}

}  // namespace

StripRange strips_inside(const Strips& strips, double v_low, double v_high) {
  const auto& layout = strips.layout;
  return {std::max(0, static_cast<int>(std::ceil((v_low - layout.v0) / layout.height - 1e-6))),
          std::min(layout.count, static_cast<int>(std::floor((v_high - layout.v0) / layout.height + 1e-6)))};
}

LineShape reader_of(const LineShape& shape, double period) {
  return period < kDensePeriod ? repeated(shape, period, kDensePeriods) : shape;
}

Tracks find_tracks(const Strips& strips, const Hypothesis& hypothesis) {
  Tracks result;
  const double period = hypothesis.lattice.pitch;
  StripRange band = strips_inside(strips, hypothesis.v_low, hypothesis.v_high);
  if (band.to <= band.from) {
    const int middle =
        static_cast<int>((0.5 * (hypothesis.v_low + hypothesis.v_high) - strips.layout.v0) / strips.layout.height);
    band = {std::clamp(middle, 0, strips.layout.count - 1), std::clamp(middle, 0, strips.layout.count - 1) + 1};
  }
  std::vector<Track>& tracks = result.lines;
  for (std::size_t i = 0; i < hypothesis.lattice.index.size(); ++i) {
    Track track;
    track.index = hypothesis.lattice.index[i];
    track.s = hypothesis.lattice.position[i];
    tracks.push_back(track);
  }
  LineShape shape = first_shape(merged(strips, band.from, band.to), period, tracks);
  band = core_of(strips, band, reader_of(shape, period), tracks);
  const Strips core = merged(strips, band.from, band.to);
  shape = first_shape(core, period, tracks);
  const LineShape follower = reader_of(shape, period);
  std::vector<double> amplitudes;
  std::vector<Track> kept;
  std::vector<std::optional<WindowFit>> fits(tracks.size());
  oneapi::tbb::parallel_for(std::size_t{0}, tracks.size(), [&](std::size_t i) {
    fits[i] = seek_line(core, tracks[i].s, 0.1 * period, period, follower);
  });
  for (std::size_t i = 0; i < tracks.size(); ++i) {
    if (!fits[i]) continue;
    tracks[i].amplitude = fits[i]->amplitude;
    amplitudes.push_back(fits[i]->amplitude);
    kept.push_back(tracks[i]);
  }
  tracks = std::move(kept);
  const double amplitude = numeric::upper_median(amplitudes);
  std::erase_if(tracks, [&](const Track& t) { return !alike(t.amplitude, amplitude); });
  result.core = band;
  result.amplitude = amplitude;
  result.shape = std::move(shape);
  if (tracks.size() < 3 || std::abs(amplitude) < 1e-6) {
    tracks.clear();
    return result;
  }
  complete_lines(core, period, follower, amplitude, tracks);
  oneapi::tbb::parallel_for(std::size_t{0}, tracks.size(),
                            [&](std::size_t i) { follow_line(strips, band, follower, amplitude, tracks[i]); });
  std::erase_if(tracks, [](const Track& t) { return t.v_high <= t.v_low; });
  if (!tracks.empty()) trim_long_lines(tracks);
  return result;
}

}  // namespace scale
