#include <algorithm>
#include <cmath>
#include <numbers>

#include "curves.h"
#include "patterns.h"

namespace micrograph {
namespace {

/// A turned lattice in the picture; `jitter` (share of a cell) is 0 when the scene asks for a regular one.
struct Lattice {
  double x0, y0, cosine, sine, cell_x, cell_y, jitter, soft, joint;
  std::uint64_t seed;

  double u(double x, double y) const { return ((x - x0) * cosine + (y - y0) * sine) / cell_x; }
  double v(double x, double y) const { return ((y - y0) * cosine - (x - x0) * sine) / cell_y; }
  double moved(int i, int j, int which) const { return jitter * (cell_number(seed, i, j, which) - 0.5); }
};

Lattice random_lattice(const Scene& scene, Random& random) {
  const double angle = random.chance(0.5) ? 0.05 * random.normal() : random.uniform(-1.5, 1.5);
  Lattice lattice{};
  lattice.x0 = scene.width * random.uniform();
  lattice.y0 = scene.height * random.uniform();
  lattice.cosine = std::cos(angle);
  lattice.sine = std::sin(angle);
  lattice.cell_y = random.log_uniform(12.0, 90.0);
  lattice.cell_x = lattice.cell_y * random.uniform(0.9, 1.1);
  lattice.jitter = scene.regular ? 0.0 : random.uniform(0.2, 0.6);
  lattice.soft = scene.optics.gaussian_px;
  lattice.joint = random.uniform(0.08, 0.25);
  lattice.seed = scene.seed;
  return lattice;
}

int whole(double value) { return static_cast<int>(std::floor(value)); }

/// Courses of bricks, each shifted by half; joints are dark.
Cover brickwork(Lattice lattice, Random& random) {
  lattice.cell_x = lattice.cell_y * random.uniform(1.8, 3.0);
  return [=](double x, double y) {
    const double v = lattice.v(x, y);
    const int course = static_cast<int>(std::round(v));
    const double bed = (v - course - lattice.moved(course, 0, 0)) * lattice.cell_y;
    const double half = 0.5 * lattice.joint * lattice.cell_y;
    const int level = bed < 0.0 ? course - 1 : course;
    const double u = lattice.u(x, y) + 0.5 * (level & 1);
    const int column = static_cast<int>(std::round(u));
    const double head = (u - column - lattice.moved(column, level, 1)) * lattice.cell_x;
    const double joint =
        std::max(soft_step(half - std::abs(bed), lattice.soft), soft_step(half - std::abs(head), lattice.soft));
    return joint + (1.0 - joint) * 0.3 * lattice.jitter * cell_number(lattice.seed, column, level, 2);
  };
}

/// Threads over and under one another, darker where they dip.
Cover cloth(const Lattice& lattice, Random& random) {
  const double gap = random.uniform(0.05, 0.3);
  return [=](double x, double y) {
    double u = lattice.u(x, y);
    double v = lattice.v(x, y);
    const double wave_u = 0.4 * lattice.moved(whole(u), 0, 0) * std::sin(0.7 * v + whole(u));
    const double wave_v = 0.4 * lattice.moved(0, whole(v), 1) * std::sin(0.7 * u + whole(v));
    u += wave_u;
    v += wave_v;
    const int i = whole(u);
    const int j = whole(v);
    const double fu = u - i - 0.5;
    const double fv = v - j - 0.5;
    const bool warp_over = ((i + j) & 1) == 0;
    const double across = warp_over ? fu : fv;
    const double along = warp_over ? fv : fu;
    const double thread =
        std::cos(std::numbers::pi * across * (1.0 - gap)) * (0.6 + 0.4 * std::cos(std::numbers::pi * along));
    return std::clamp(1.0 - thread, 0.0, 1.0);
  };
}

Cover tiles(const Lattice& lattice) {
  return [=](double x, double y) {
    const double u = lattice.u(x, y);
    const double v = lattice.v(x, y);
    const double su = lattice.soft / lattice.cell_x;
    const double sv = lattice.soft / lattice.cell_y;
    const int i = static_cast<int>(std::round(u));  // the nearest corner of four tiles
    const int j = static_cast<int>(std::round(v));
    const double right = soft_step(u - i, su);
    const double below = soft_step(v - j, sv);
    const auto grey = [&](int a, int b) { return cell_number(lattice.seed, a, b, 3); };
    return (1.0 - right) * ((1.0 - below) * grey(i - 1, j - 1) + below * grey(i - 1, j)) +
           right * ((1.0 - below) * grey(i, j - 1) + below * grey(i, j));
  };
}

/// Walls half-way between scattered points.
Cover voronoi(const Lattice& lattice) {
  return [=](double x, double y) {
    const double u = lattice.u(x, y);
    const double v = lattice.v(x, y);
    double nearest = 1e9;
    double second = 1e9;
    for (int dj = -2; dj <= 2; ++dj) {
      for (int di = -2; di <= 2; ++di) {
        const int i = whole(u) + di;
        const int j = whole(v) + dj;
        const double du = u - i - cell_number(lattice.seed, i, j, 4);
        const double dv = v - j - cell_number(lattice.seed, i, j, 5);
        const double d = du * du + dv * dv;
        if (d < nearest) {
          second = nearest;
          nearest = d;
        } else if (d < second) {
          second = d;
        }
      }
    }
    const double wall = 0.5 * (std::sqrt(second) - std::sqrt(nearest)) * lattice.cell_y;
    return soft_step(0.5 * lattice.joint * lattice.cell_y - wall, lattice.soft);
  };
}

Cover discs(const Lattice& lattice, Random& random) {
  const double radius = random.uniform(0.25, 0.48);
  const bool staggered = random.chance(0.5);
  return [=](double x, double y) {
    const double v = lattice.v(x, y) / (staggered ? 0.866 : 1.0);
    double covered = 0.0;
    for (int j = whole(v); j <= whole(v) + 1; ++j) {
      const double u = lattice.u(x, y) - (staggered && (j & 1) != 0 ? 0.5 : 0.0);
      for (int i = whole(u); i <= whole(u) + 1; ++i) {
        const double du = (u - i - lattice.moved(i, j, 6)) * lattice.cell_x;
        const double dv = (v - j - lattice.moved(i, j, 7)) * lattice.cell_y * (staggered ? 0.866 : 1.0);
        covered = std::max(covered, soft_step(radius * lattice.cell_y - std::hypot(du, dv), lattice.soft));
      }
    }
    return covered;
  };
}

}  // namespace

Cover cells_cover(const Scene& scene, Random& random) {
  const Lattice lattice = random_lattice(scene, random);
  switch (scene.no_scale) {
    case NoScale::brickwork:
      return brickwork(lattice, random);
    case NoScale::cloth:
      return cloth(lattice, random);
    case NoScale::tiles:
      return tiles(lattice);
    case NoScale::voronoi:
      return voronoi(lattice);
    default:
      return discs(lattice, random);
  }
}

}  // namespace micrograph
