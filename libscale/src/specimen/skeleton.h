// The middle lines of silhouettes, as pieces between places where they meet.
//
// Method.  Samples are taken away in the order of their distance to the edge as long as that changes nothing in what
// hangs
//          together (simple points), save those on a ridge of the distance. Corners have a ridge as well, but a
//          slanting one: a ridge whose slope is above 0.65 is none, so ends do not fork.
// Source.  Distance-ordered homotopic thinning: C. Pudney, CVIU 72 (1998) (from memory).
#pragma once

#include <opencv2/core.hpp>
#include <vector>

namespace scale {

struct SkeletonPiece {
  std::vector<cv::Point> path;  // neighbours of each other, end to end
  int start = -1, end = -1;     // places in Skeleton::junctions; -1: a free end
  int label = 0;                // of the silhouette
};

struct Junction {
  cv::Point2d at;
  double radius = 0.0;  // largest distance to the edge there
};

struct Skeleton {
  std::vector<SkeletonPiece> pieces;
  std::vector<Junction> junctions;
  cv::Mat distance;  // CV_32F, to the edge of the silhouette; beyond the frame it is taken to go on
};

// That distance alone.
cv::Mat distance_of(const cv::Mat& mask);

Skeleton skeleton_of(const cv::Mat& mask, const cv::Mat& labels);

}  // namespace scale
