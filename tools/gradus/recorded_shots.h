// The shots of a calibration as its record keeps them: what was found in each picture, without the picture.
#pragma once

#include <scale/calibration_page.h>

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace gradus {

// A ruling, and what the set-up's calibration made of it.
struct RecordedRuling {
  scale::Ruling ruling;
  scale::SheetShot factor;
  scale::Numbering numbering;
};

struct RecordedShot {
  std::string image, sha256;
  int width = 0, height = 0;
  std::vector<RecordedRuling> rulings;
  bool eyepiece = false;  // the rulings are those of the micrometer and of the reticle
};

// Of the content of a calibration's record. Throws nlohmann::json::exception when it is not as it should be.
std::vector<RecordedShot> shots_of(const nlohmann::json& content);

// The picture of a reticle's record, its rulings without factors. Nothing where it was not kept.
std::optional<RecordedShot> eyepiece_shot_of(const nlohmann::json& content);

// Deviation of every graduation from an even division, with the certified ones where graduations are numbered.
scale::RulingResiduals residuals_of(const RecordedShot& shot, const RecordedRuling& ruling,
                                    const scale::ReferenceScale& reference);

// The local factor against that of its ruling, by parts of the field: parts of a ruling are fitted on their own and
// averaged over the cells of a grid, each direction for itself.
std::vector<scale::LocalScale> local_scales(const std::vector<RecordedShot>& shots,
                                            const scale::ReferenceScale& reference);

}  // namespace gradus
