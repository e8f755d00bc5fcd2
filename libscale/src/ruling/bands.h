// Bands of a sheared picture: neighbouring strips merged into one profile each.
//
// Graduations of different length, numerals and a second scale live at different heights, so a ruling is looked for in
// bands of every height from the whole picture down to a thirty-second of it. All of them are sums of the same few
// groups of strips and are taken from running sums, whatever their height.
#pragma once

#include <vector>

#include "ruling/edges.h"
#include "ruling/strips.h"

namespace scale {

// Groups [from, to).
struct Band {
  int from = 0, to = 0;
};

// Widest first; the bands of one level have one height and overlap by half.
std::vector<std::vector<Band>> band_levels(int groups);

class BandSums {
 public:
  BandSums() = default;
  // At most `most_groups` groups of whole strips, all phases together.
  BandSums(const Strips& strips, int most_groups);

  double angle() const { return angle_; }
  int groups() const { return static_cast<int>(v_.size()) - 1; }
  int bins() const { return bins_; }
  double v_low(const Band& band) const { return v_[static_cast<std::size_t>(band.from)]; }
  double v_high(const Band& band) const { return v_[static_cast<std::size_t>(band.to)]; }
  double height(const Band& band) const { return v_high(band) - v_low(band); }

  // [begin, end) is the longest stretch of bins that hold pixels from a good part of the band's rows.
  Profile profile(const Band& band) const;
  // The same of one group, which is asked for again and again.
  const Profile& group_profile(int group) const { return groups_[static_cast<std::size_t>(group)]; }

 private:
  const float* row(const std::vector<float>& sums, int group) const {
    return sums.data() + static_cast<std::size_t>(group) * static_cast<std::size_t>(bins_);
  }
  double angle_ = 0.0;
  int first_ = 0, bins_ = 0;
  std::vector<double> v_{0.0};                    // where the groups begin, and where the last one ends
  std::vector<float> count_, value_, remainder_;  // running sums [group][bin]; value about a mid grey, see .cpp
  float grey_ = 0.0F;
  std::vector<Profile> groups_;
};

// One strip as it is (its first phase).
Profile strip_profile(const Strips& strips, int strip);

}  // namespace scale
