// Edges of a projection profile: where it rises or falls fastest, at a given smoothing.
//
// Model. The profile is convolved with the derivative of a Gaussian of standard deviation `scale` bins; an edge
// is a local extremum of the response, placed by a parabola through three samples. Rising and falling edges of
// a ruling are two sets with one common pitch, whatever the width and polarity of its lines.
#pragma once

#include <vector>

namespace scale {

// A projection profile; bin i stands for s = first + i + remainder[i]. Bins outside [begin, end) hold nothing.
struct Profile {
  int first = 0;
  int begin = 0, end = 0;
  std::vector<float> value, remainder;
};

struct Edge {
  double s = 0.0;
  double strength = 0.0;  // grey values per bin, positive
};

struct Edges {
  std::vector<Edge> rising, falling;  // in order of s
};

// The derivative response in [begin, end); zero outside.
std::vector<float> edge_response(const Profile& profile, double scale);

// L2 norm of the kernel of `edge_response`: noise of the response per noise of a bin.
double edge_response_gain(double scale);

// Extrema of `response` stronger than `threshold`.
Edges edges_of(const Profile& profile, const std::vector<float>& response, double threshold);

}  // namespace scale
