#include <scale/drift.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace scale {
namespace {

// A size counts as halved when it is so to a pixel of rounding and a cut edge.
constexpr double kSizeFits = 0.01;
constexpr std::array<double, 6> kTimes{2.0, 3.0, 4.0, 1.0 / 2.0, 1.0 / 3.0, 1.0 / 4.0};

double off(double ratio, double times) { return std::abs(std::log(ratio / times)); }

std::optional<Likeness> own_at_another_size(double um_per_pixel, const RegisteredSetup& own, double fits) {
  if (!own.both) return std::nullopt;
  const double ratio = um_per_pixel / own.both->um_per_pixel;
  for (const double times : kTimes)
    if (off(ratio, times) < fits) return Likeness{own.name, times};
  return std::nullopt;
}

std::optional<Likeness> another(double um_per_pixel, const RegisteredSetup& own, std::span<const RegisteredSetup> all,
                                double fits) {
  std::optional<Likeness> best;
  double nearest = fits;
  for (const RegisteredSetup& setup : all) {
    if (setup.name == own.name || !setup.both) continue;
    const double distance = off(um_per_pixel / setup.both->um_per_pixel, 1.0);
    if (distance >= nearest) continue;
    nearest = distance;
    best = Likeness{setup.name, 1.0};
  }
  return best;
}

}  // namespace

std::optional<Likeness> likeness_of(double um_per_pixel, const RegisteredSetup& own,
                                    std::span<const RegisteredSetup> all, std::optional<double> size_ratio,
                                    double fits) {
  const std::optional<Likeness> resized = own_at_another_size(um_per_pixel, own, fits);
  const std::optional<Likeness> other = another(um_per_pixel, own, all, fits);
  if (resized && size_ratio && off(*size_ratio, resized->times) < kSizeFits) return resized;
  return other ? other : resized;
}

std::string in_words(const Likeness& likeness) {
  if (likeness.times == 1.0) return likeness.setup;
  const bool larger = likeness.times > 1.0;
  const std::string number = std::to_string(std::lround(larger ? likeness.times : 1.0 / likeness.times));
  return likeness.setup + " at " + (larger ? "1/" + number + " of" : number + " times") + " its size in pixels";
}

}  // namespace scale
