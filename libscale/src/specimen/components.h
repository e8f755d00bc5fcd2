// What hangs together in a mask, with where each part lies and how large it is.
//
// Method.  cv::connectedComponents, then one pass over the labels by runs: the library's own statistics look at every
//          sample alone and keep sums of places nobody needs, which takes longer than the labels do.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

namespace scale {

struct Component {
  cv::Rect box;
  int area = 0;  // samples
};

struct Components {
  cv::Mat labels;               // CV_32S, 0: not of the mask
  std::vector<Component> list;  // by label; the first stands for what is not of the mask and is empty
  int count() const { return static_cast<int>(list.size()) - 1; }
  const Component& operator[](int label) const { return list[static_cast<std::size_t>(label)]; }
};

// `connectivity`: 4 or 8 neighbours of a sample.
Components components_of(const cv::Mat& mask, int connectivity);

}  // namespace scale
