// Two measured pieces of one fibre made one: what its middle line alone could not tell where many fibres meet.
//
// Model.   A fibre goes on straight, or bends evenly, under what lies over it, and is as wide on the other side. Widths
//          are known to a small part of a pixel here, which tells fibres apart far better than silhouettes do.
// Limits.  Pieces further apart than 25 widths stay two, and are both told to go on at an end (`end_hidden`).
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include <scale/specimen.h>

namespace scale {

// `ways`: CV_8U at the reduced scale, where a fibre may run unseen: within silhouettes, or under what lies over them.
void rejoin_fibres(std::vector<Body>& bodies, const cv::Mat& ways, int reduction);

}  // namespace scale
