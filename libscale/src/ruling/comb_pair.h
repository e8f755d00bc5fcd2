// Two scales that lie over or across each other, taken apart.
//
// One is followed over the whole picture (`fit_comb`), from a peak of the spectrum or from a piece of it that was
// found, its lines are divided out, the other one is followed in what is left, and each is read again with the other
// one divided out until both stand. They are believed only when each looks like a ruled scale and little is left of the
// picture's variance among their lines.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include <scale/ruling.h>

#include "ruling/comb.h"

namespace scale {

struct CombPair {
  std::array<Ruling, 2> rulings;
  std::array<cv::Mat, 2> rest;  // the picture without the other one
  cv::Mat ground;               // without both
  bool third = false;           // a piece of yet another scale stands in it
};

// From two frequencies of the picture's spectrum. `dark`: the lines are darker than the ground.
std::optional<CombPair> find_comb_pair_by_spectrum(const cv::Mat& picture, double white, bool dark);

// From `pieces`: rulings found in parts of the picture, those with most lines first.
std::optional<CombPair> find_comb_pair(const cv::Mat& picture, double white, const std::vector<Ruling>& pieces);

}  // namespace scale
