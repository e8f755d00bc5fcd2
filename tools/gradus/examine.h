// One image file through the engine.
#pragma once

#include <images/read_image.h>
#include <scale/lab.h>
#include <scale/reticle_picture.h>

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "batch.h"
#include "outcome.h"

namespace gradus {

struct Examination {
  scale::ReferenceScale reference;
  std::optional<scale::MicrometresPerPixel> expected;
  std::optional<cv::Rect> region;  // look only there; as asked, not yet known to lie inside
  images::Channel channel = images::Channel::luminance;
  std::optional<scale::ReticleInView> reticle;       // a reticle and a micrometer are in the picture
  std::optional<scale::SetupConditions> conditions;  // of the eyepiece's set-up, with a lab file
  bool keep_shot = false;  // keep what was found of every graduation, for pages; with a lab file it always is
  // With a lab file.
  std::string setup;                             // name; empty: no lab file
  std::optional<std::array<int, 2>> image_size;  // a shot of another size is refused
  bool mirrored = false;
  std::vector<scale::LabShots> shots;  // the first that matches the path and says something holds
  bool hash_files = false;             // for the register and for pages
};

// Never throws: whatever goes wrong with this image is a refused outcome, so that the others are still done.
// `pictures` is the folder for input.picture_name; empty: no picture is drawn.
Outcome examine(const Input& input, const Examination& how, const std::string& pictures) noexcept;

}  // namespace gradus
