#include <algorithm>
#include <cmath>
#include <vector>

#include <Eigen/Dense>

#include "numeric/robust.h"
#include "ruling/comb.h"
#include "ruling/comb_pixels.h"
#include "ruling/comb_sums.h"

namespace scale {
namespace {

// Judgement, all of it; checked by the accuracy suite.
constexpr int kMostPasses = 20;
constexpr double kSettled = 0.01;       // pixels: the places of the first and the last line no longer move
constexpr double kGrowth = 0.25;        // of the lines known: so many more are looked for at each end in a pass,
constexpr int kLeastGrowth = 2;         // at least and
constexpr int kMostGrowth = 12;         // at most
constexpr int kMostGap = 6;             // lines not there, one after the other: the scale has ended before
constexpr std::size_t kLeastLines = 5;  // that are followed at all
constexpr double kLeastPitch = 3.0;     // pixels
constexpr std::size_t kLeastSteps = 6;  // blocks that tell how the lines lean and fan out
constexpr double kCovered = 0.3;        // of what a line could tell: less was free
constexpr double kFree = 0.6;           // the same: a line that more was free of and that does not show is not there
constexpr double kShallow = 0.45, kDeep = 2.2;  // times the others' depth
constexpr double kLeastExplained = 0.1;         // of the variance about a line
constexpr double kOffPlace = 0.3;               // of the pitch: a line farther off is not this one
constexpr int kMostApproaches = 3;
constexpr double kStraight = 0.4;   // pixels
constexpr double kRoom = 0.7;       // of the lines' length beyond their ends
constexpr double kGoesOn = 0.5;     // of a line's depth: there it has not ended
constexpr double kSmoothing = 0.3;  // pixels, of the folded profile
constexpr double kCell = 0.25;      // pixels, of the fold
constexpr double kFoldTrust = 0.5;
constexpr std::size_t kForQuadratic = 8, kForCubic = 25;  // lines
constexpr double kTukey = 4.685;                          // 95 % efficient for normal errors (from memory)
constexpr double kLeastScatter = 0.005;                   // pixels: below it rounding is left

// The median over all lines of what lies at each offset from them.
LineShape fold(const Light& light, const Comb& comb) {
  const double reach = 0.5 * comb.pitch() + 1.0;
  std::vector<std::vector<double>> cells(static_cast<std::size_t>(2.0 * reach / kCell) + 1);
  for (const CombLine& line : comb.lines) {
    if (line.seen != Seen::clearly) continue;
    visit_line(light.share.size(), path_of(comb, line.index, line.t - comb.at(line.index)), comb.v_low, comb.v_high,
               reach, [&](int x, int y, double offset, double) {
                 if (light.trusted(x, y) >= kFoldTrust)
                   cells[std::min(cells.size() - 1, static_cast<std::size_t>((offset + reach) / kCell))].push_back(
                       light.off(x, y));
               });
  }
  Fold fold;
  fold.reach = 0.5 * comb.pitch();
  for (std::size_t i = 0; i < cells.size(); ++i)
    if (!cells[i].empty())
      fold.cells.push_back({(static_cast<double>(i) + 0.5) * kCell - reach, numeric::median_in_place(cells[i]),
                            static_cast<double>(cells[i].size())});
  return fold.cells.size() < 4 ? LineShape{} : smoothed(fold, kSmoothing);
}

struct Polynomial {
  std::array<double, 4> c{};
  double at(double z) const { return c[0] + z * (c[1] + z * (c[2] + z * c[3])); }
};

struct Places {
  Polynomial polynomial;
  double scatter = 0.0;  // pixels, robust
};

Places fit_places(const std::vector<double>& z, const std::vector<double>& t, const std::vector<double>& weight) {
  const std::size_t n = z.size();
  const Eigen::Index terms = n < kForQuadratic ? 2 : n < kForCubic ? 3 : 4;
  std::vector<double> robust(n, 1.0), off(n, 0.0);
  Places result;
  for (int pass = 0; pass < 8; ++pass) {
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(terms, terms);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(terms), powers(terms);
    for (std::size_t i = 0; i < n; ++i) {
      for (Eigen::Index k = 0; k < terms; ++k) powers(k) = std::pow(z[i], static_cast<double>(k));
      normal += weight[i] * robust[i] * powers * powers.transpose();
      right += weight[i] * robust[i] * t[i] * powers;
    }
    const Eigen::VectorXd c = normal.ldlt().solve(right);
    for (Eigen::Index k = 0; k < terms; ++k) result.polynomial.c[static_cast<std::size_t>(k)] = c(k);
    for (std::size_t i = 0; i < n; ++i) off[i] = t[i] - result.polynomial.at(z[i]);
    std::vector<double> sizes(n);
    std::transform(off.begin(), off.end(), sizes.begin(), [](double value) { return std::abs(value); });
    result.scatter = std::max(kLeastScatter, numeric::kMadToSigma * numeric::upper_median(std::move(sizes)));
    for (std::size_t i = 0; i < n; ++i) {
      const double u = off[i] / (kTukey * result.scatter);
      robust[i] = std::abs(u) < 1.0 ? (1.0 - u * u) * (1.0 - u * u) : 0.0;
    }
  }
  return result;
}

class Fitting {
 public:
  Fitting(const Light& light, const CombStart& start) : light_(light) {
    comb_.direction = start.direction;
    comb_.v_low = start.v_low, comb_.v_high = start.v_high;
    comb_.v0 = 0.5 * (start.v_low + start.v_high);
    for (std::size_t i = 0; i < start.index.size(); ++i) {
      CombLine line;
      line.index = start.index[i], line.t = start.t[i], line.coverage = 1.0;
      line.v_low = start.v_low, line.v_high = start.v_high;
      comb_.lines.push_back(line);
    }
    lay_out();
  }

  Fitting(const Light& light, const Comb& comb) : light_(light), comb_(comb) {}

  std::optional<Comb> run() {
    for (int pass = 0; pass < kMostPasses; ++pass) {
      const std::pair before{comb_.lines.front().index, comb_.lines.back().index};
      const double first = comb_.at(before.first), last = comb_.at(before.second), length = comb_.v_high - comb_.v_low;
      if (!(comb_.pitch() > kLeastPitch) || !shape()) return std::nullopt;
      grow(), measure();
      if (!set_upright()) return std::nullopt;
      trim();
      if (comb_.count(Seen::clearly) < kLeastLines) return std::nullopt;
      lay_out(), set_range();
      const bool moved = std::abs(comb_.v_high - comb_.v_low - length) > kBlockHeight ||
                         std::abs(comb_.at(before.first) - first) > kSettled ||
                         std::abs(comb_.at(before.second) - last) > kSettled;
      if (!moved && before == std::pair{comb_.lines.front().index, comb_.lines.back().index}) break;
    }
    return comb_;
  }

 private:
  bool shape() {
    comb_.shape = fold(light_, comb_);
    if (comb_.shape.value.empty()) return false;
    const double moved = normalise_shape(comb_.shape, comb_.pitch(), true);
    comb_.place[0] += moved;
    for (CombLine& line : comb_.lines) line.t += moved;
    comb_.shape.window = std::min(comb_.shape.window, comb_.shape.reach - 2.0 * LineShape::step);
    return true;
  }

  // Lines that may stand beyond the ends, and those missing in between.
  void grow() {
    const int known = static_cast<int>(comb_.lines.size());
    const int more = std::clamp(static_cast<int>(kGrowth * known), kLeastGrowth, kMostGrowth);
    std::vector<CombLine> all;
    std::size_t next = 0;
    for (int i = comb_.lines.front().index - more; i <= comb_.lines.back().index + more; ++i) {
      CombLine line;
      line.index = i;
      line.seen = Seen::not_there;
      line.v_low = comb_.v_low, line.v_high = comb_.v_high;
      if (next < comb_.lines.size() && comb_.lines[next].index == i) line = comb_.lines[next++];
      line.t = comb_.at(i);
      all.push_back(line);
    }
    comb_.lines = std::move(all);
  }

  void measure() {
    const double room = kRoom * (comb_.v_high - comb_.v_low) + kBlockHeight;
    read_.clear();
    std::vector<double> depths;
    for (const CombLine& line : comb_.lines) {
      read_.push_back(read_line(light_, comb_, line.index, comb_.v_low - room, comb_.v_high + room));
      if (line.seen == Seen::clearly && read_.back().core.coverage() > 0.5)
        depths.push_back(read_.back().core.solved({}).depth);
    }
    if (!depths.empty()) comb_.depth = numeric::median_in_place(depths);
    const Prior prior{comb_.depth, true};
    for (std::size_t i = 0; i < read_.size(); ++i) {
      approach(comb_.lines[i].index, read_[i], prior);
      see(comb_.lines[i], read_[i], prior);
    }
  }

  // Least squares are straight about the line's place only: where it turns out to lie off, it is read again there.
  void approach(int index, LineRead& read, const Prior& prior) {
    for (int again = 0; again < kMostApproaches; ++again) {
      const double by = read.core.solved(prior).shift, shift = read.shift + by;
      if (std::abs(by) < kStraight || !(std::abs(shift) < kOffPlace * comb_.pitch())) return;
      read = read_line(light_, comb_, index, read.v_first,
                       read.v_first + static_cast<double>(read.blocks.size()) * kBlockHeight, shift);
    }
  }

  void see(CombLine& line, LineRead& read, const Prior& prior) {
    read.limit(prior, kGoesOn, kCovered);
    const Solved solved = read.total.solved(prior);
    line.coverage = read.core.coverage();
    line.depth = solved.depth;
    line.explained = solved.explained;
    line.v_low = read.low(), line.v_high = read.high();
    const double share = solved.depth / comb_.depth, shift = read.shift + solved.shift;
    const bool shows = share >= kShallow && share <= kDeep && std::abs(shift) <= kOffPlace * comb_.pitch() &&
                       solved.explained >= kLeastExplained;
    if (line.coverage < kCovered || (!shows && line.coverage < kFree))
      line.seen = Seen::covered;
    else
      line.seen = shows ? Seen::clearly : Seen::not_there;
    line.t = comb_.at(line.index) + (line.seen == Seen::clearly ? shift : 0.0);
  }

  // The lines' slope, from how the shift of their blocks changes along them; false when too few tell.
  bool set_upright() {
    Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
    Eigen::Vector2d right = Eigen::Vector2d::Zero();
    double squares = 0.0, count = 0.0;
    const Prior prior{comb_.depth, true};
    struct Step {
      Eigen::Vector2d x;
      double off, weight;
    };
    std::vector<Step> steps;
    for (std::size_t i = 0; i < comb_.lines.size(); ++i) {
      if (comb_.lines[i].seen != Seen::clearly) continue;
      const double own = comb_.lines[i].t - comb_.at(comb_.lines[i].index), z = comb_.z(comb_.lines[i].index);
      for (std::size_t k = read_[i].from; k < read_[i].to; ++k) {
        const LineSums& block = read_[i].blocks[k];
        if (block.coverage() < 0.5) continue;
        const Solved solved = block.solved(prior);
        const double v = read_[i].v_of(k) - read_[i].v_mean, off = read_[i].shift + solved.shift - own;
        if (std::abs(off) > kOffPlace * comb_.pitch() || solved.depth / comb_.depth < kShallow) continue;
        steps.push_back({{v, z * v}, off, block.dd});
      }
    }
    if (steps.size() < kLeastSteps) return false;
    std::vector<double> sizes;
    for (const Step& step : steps) sizes.push_back(std::abs(step.off));
    const double limit = 3.0 * std::max(0.05, numeric::kMadToSigma * numeric::upper_median(std::move(sizes)));
    for (const Step& step : steps) {
      if (std::abs(step.off) > limit) continue;
      normal += step.weight * step.x * step.x.transpose();
      right += step.weight * step.off * step.x;
      squares += step.weight * step.off * step.off, count += 1.0;
    }
    // A fan or lean that the data hardly show is held small.
    normal.diagonal().array() += 1e-9;
    const Eigen::Vector2d change = normal.ldlt().solve(right);
    comb_.lean += change(0), comb_.fan += change(1);
    comb_.fan_uncertainty =
        std::sqrt(std::max(0.0, squares - change.dot(right)) / std::max(1.0, count - 2.0) * normal.inverse()(1, 1));
    for (std::size_t i = 0; i < comb_.lines.size(); ++i)
      comb_.lines[i].t -= (change(0) + change(1) * comb_.z(comb_.lines[i].index)) * (read_[i].v_mean - comb_.v0);
    return true;
  }

  // Ends where several lines in a row are not there.
  void trim() {
    std::vector<CombLine>& lines = comb_.lines;
    const auto middle = static_cast<std::ptrdiff_t>(lines.size() / 2);
    const auto end_of = [](auto from, auto to) {
      auto last = from;
      int gap = 0;
      for (auto at = from; at != to && gap < kMostGap; ++at) {
        if (at->seen == Seen::clearly) last = at, gap = 0;
        gap += at->seen == Seen::not_there ? 1 : 0;
      }
      return last;
    };
    const auto last = end_of(lines.begin() + middle, lines.end());
    const auto first = end_of(std::make_reverse_iterator(lines.begin() + middle + 1), lines.rend());
    lines = std::vector<CombLine>(first.base() - 1, last + 1);
  }

  // The polynomial anew, over the lines there are.
  void lay_out() {
    const double first = comb_.lines.front().index, last = comb_.lines.back().index;
    const double before_middle = comb_.middle, before_half = comb_.half;
    comb_.middle = 0.5 * (first + last), comb_.half = std::max(1.0, 0.5 * (last - first));
    // The slope's z has changed with the range.
    comb_.lean += comb_.fan * (comb_.middle - before_middle) / before_half;
    comb_.fan *= comb_.half / before_half, comb_.fan_uncertainty *= comb_.half / before_half;
    std::vector<double> z, t, weight;
    for (const CombLine& line : comb_.lines)
      if (line.seen == Seen::clearly)
        z.push_back(comb_.z(line.index)), t.push_back(line.t), weight.push_back(line.coverage);
    const Places places = fit_places(z, t, weight);
    comb_.place = places.polynomial.c, comb_.scatter = places.scatter;
  }

  void set_range() {
    std::vector<double> low, high;
    for (const CombLine& line : comb_.lines)
      if (line.seen == Seen::clearly) low.push_back(line.v_low), high.push_back(line.v_high);
    const double from = numeric::quantile(low, 0.75), to = numeric::quantile(high, 0.25);
    if (to - from < 2.0 * kBlockHeight) return;
    comb_.v_low = from, comb_.v_high = to;
    const double v0 = 0.5 * (from + to), by = v0 - comb_.v0;
    comb_.place[0] += comb_.lean * by, comb_.place[1] += comb_.fan * by;
    for (CombLine& line : comb_.lines) line.t += comb_.slope(line.index) * by;
    comb_.v0 = v0;
  }

  const Light& light_;
  Comb comb_;
  std::vector<LineRead> read_;
};

}  // namespace

double Comb::at(double index) const { return Polynomial{place}.at(z(index)); }

std::size_t Comb::count(Seen kind) const {
  return static_cast<std::size_t>(
      std::count_if(lines.begin(), lines.end(), [kind](const CombLine& line) { return line.seen == kind; }));
}

std::optional<Comb> fit_comb(const Light& light, const CombStart& start) {
  if (start.index.size() < 3) return std::nullopt;
  return Fitting(light, start).run();
}

std::optional<Comb> refit_comb(const Light& light, const Comb& comb) { return Fitting(light, comb).run(); }

}  // namespace scale
