// One picture a result, to look at: what was found drawn over what was given, and the residuals beneath.
#pragma once

#include <opencv2/core.hpp>
#include <set>
#include <string>

#include <scale/reticle_picture.h>

namespace gradus {

struct PictureContent {
  std::string title;                                // the image's name
  scale::ImageView image;                           // the whole picture
  cv::Rect region;                                  // where was looked; the whole picture, or less
  const scale::Reading* reading = nullptr;          // in coordinates of the whole picture
  const scale::Calibration* calibration = nullptr;  // null when refused
  const scale::ReticlePicture* reticle = nullptr;   // of the second ruling, where one was asked for
};

// 8-bit BGR. Large images are averaged down, small ones magnified by whole factors.
cv::Mat draw_picture(const PictureContent& content);

// The path in one name ("a/x.png" -> "a_x.png.png"), so that pictures of several folders stay apart.
std::string plain_picture_name(const std::string& image);

// The file names --pictures gives, in the order asked; where two would still meet, "-2", "-3" ... is added.
class PictureNames {
 public:
  std::string name_for(const std::string& image);

 private:
  std::set<std::string> taken_;
};

}  // namespace gradus
