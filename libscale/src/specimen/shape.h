// Lengths and areas of closed outlines, exact for the polygon.
//
// Formulas. Area: shoelace. Feret diameters: the breadth across a side of the convex hull is least, the distance of two
// of
//           its corners largest. Perimeter: sum of the sides.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include <scale/specimen.h>

namespace scale {

// Positive when the points run from +x towards +y, clockwise on the screen.
double signed_area(const std::vector<cv::Point2d>& outline);

// Convex hull: Andrew's monotone chain.
std::vector<cv::Point2d> hull_of(std::vector<cv::Point2d> points);

// Largest and least Feret diameter of an outline.
double largest_feret(const std::vector<cv::Point2d>& outline);
double least_feret(const std::vector<cv::Point2d>& outline);

double perimeter(const std::vector<cv::Point2d>& outline);

// Within the body's outline, square pixels.
double body_area(const Body& body);

PixelPoint centroid(const std::vector<PixelPoint>& outline);

}  // namespace scale
