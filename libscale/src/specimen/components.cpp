#include "specimen/components.h"

#include <opencv2/imgproc.hpp>

namespace scale {

Components components_of(const cv::Mat& mask, int connectivity) {
  Components parts;
  parts.list.resize(static_cast<std::size_t>(cv::connectedComponents(mask, parts.labels, connectivity, CV_32S)));
  for (int y = 0; y < mask.rows; ++y) {
    const int* labels = parts.labels.ptr<int>(y);
    for (int x = 0; x < mask.cols;) {
      const int label = labels[x], first = x;
      while (x < mask.cols && labels[x] == label) ++x;
      if (label == 0) continue;
      Component& part = parts.list[static_cast<std::size_t>(label)];
      part.box |= cv::Rect(first, y, x - first, 1);
      part.area += x - first;
    }
  }
  return parts;
}

}  // namespace scale
