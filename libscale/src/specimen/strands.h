// Middle lines joined across crossings: which pieces belong to one fibre.
//
// Model.   A fibre keeps its direction and width over a crossing. Pieces are cut back from where they meet, by the
// radius
//          of the meeting; two ends are joined when each lies on the other's way, the turn between them is small, their
//          widths are alike and the way between them stays in the silhouette. The best joints first, every end once.
//          A piece that runs on into the end of a thicker fibre is cut where its width changes. What stands out in the
//          other tone before two ends may lie over a fibre, a scratch or a drawn mark: they are joined over it as over
//          a crossing, also from one silhouette to another.
//          Pieces that are together as wide as one that ends where they begin are fibres, and that one is a bundle.
// Limits.  Fibres side by side that do not part in view are taken for one wide one.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "specimen/skeleton.h"

namespace scale {

struct Strand {
  std::vector<cv::Point2d> path;  // about a sample apart, smooth
  std::vector<bool> clear;        // of the path: false where it crosses another
  double width = 0.0;             // typical, samples: twice the distance to the edge
  double spread = 0.0;            // of that width along the path, relative: quartile range over median
  int label = 0;
  std::vector<int> further;                        // labels of the silhouettes it goes on in beyond what lies over it
  bool joined = false;                             // it crosses another
  bool front_hidden = false, back_hidden = false;  // the end lies under or at another body
  bool bundle = false;                             // fibres side by side that part at its end: no fibre itself
};

// `cover`: samples of the other tone, that may be a scratch or a mark over a fibre. Not empty.
std::vector<Strand> strands_of(const Skeleton& skeleton, const cv::Mat& mask, const cv::Mat& cover);

}  // namespace scale
