#include "sheet_pictures.h"

#include <images/encode_jpeg.h>
#include <images/read_image.h>

#include <filesystem>
#include <iterator>
#include <set>

#include "file_hash.h"
#include "line_profile.h"
#include "overlay.h"
#include "text.h"

namespace gradus {
namespace {

namespace fs = std::filesystem;

constexpr int kMostPixels = 1200;  // what a page shows, sharp on paper at 170 mm too
constexpr int kLeastPixels = 700;
constexpr int kJpegQuality = 82;
constexpr std::uintmax_t kLargestFile = std::uintmax_t{1} << 30;

// Paths under which the file may be found, the likeliest first.
std::vector<fs::path> candidates(const std::string& image, const PictureSearch& search) {
  const fs::path recorded(image);
  std::vector<fs::path> list = {recorded};
  for (const std::string& folder : search.folders) {
    fs::path end = recorded.relative_path();
    while (!end.empty()) {
      list.push_back(fs::path(folder) / end);
      fs::path shorter;
      for (auto part = std::next(end.begin()); part != end.end(); ++part) shorter /= *part;
      end = shorter;
    }
  }
  return list;
}

struct Found {
  fs::path path;
  std::string problem;
};

Found find(const RecordedShot& shot, const PictureSearch& search) {
  bool other = false;
  std::error_code ignored;
  for (const fs::path& path : candidates(shot.image, search)) {
    if (!fs::is_regular_file(path, ignored) || fs::file_size(path, ignored) > kLargestFile) continue;
    if (shot.sha256.empty() || hash_of_file(path.string()) == shot.sha256) return {path, ""};
    other = true;
  }
  return {{},
          other ? "the file of this name is not the one that was calibrated from (another SHA-256)"
                : "the file is not where it was; name its folder with --images"};
}

std::string description(const RecordedShot& shot) {
  if (shot.eyepiece)
    return "Both scales as seen through the eyepiece, with the lines that were found drawn over them: " +
           std::to_string(shot.rulings[0].ruling.graduations.size()) + " of the micrometer, " +
           std::to_string(shot.rulings[1].ruling.graduations.size()) + " of the reticle, " +
           second_ink_name(shot.rulings[1].ruling) + " and numbered with r.";
  std::string words = "The line scale as the camera saw it, with the graduations that were found drawn over it";
  for (const RecordedRuling& recorded : shot.rulings)
    words += "; " + std::to_string(recorded.ruling.graduations.size()) + " along " + recorded.factor.direction +
             ", graduations " + (recorded.factor.numbering.empty() ? "not numbered" : recorded.factor.numbering);
  return words + ".";
}

void draw(DrawnPicture& drawn, const RecordedShot& shot, const fs::path& path) {
  const auto picture = images::read_image(path.string());
  if (!picture) {
    drawn.page.missing = picture.error().message;
    return;
  }
  Display display = display_of(picture->view(), kMostPixels, kLeastPixels);
  for (std::size_t i = 0; i < shot.rulings.size(); ++i)
    draw_ruling(display, shot.rulings[i].ruling, shot.rulings[i].numbering, shot.eyepiece ? kEyepieceMarks.at(i) : "");
  for (std::size_t i = 0; i < shot.rulings.size(); ++i)
    draw_direction(display, shot.rulings[i].ruling, static_cast<int>(i), shot.eyepiece ? kEyepieceNames.at(i) : "");
  for (const RecordedRuling& recorded : shot.rulings) {
    if (shot.eyepiece) break;  // one scale may lie in the profile of the other
    scale::LineProfile profile = line_profile(picture->view(), recorded.ruling);
    profile.name = shot.image;
    profile.direction = recorded.factor.direction;
    drawn.profiles.push_back(std::move(profile));
  }
  DrawnPicture encoded = picture_of(display.canvas);
  drawn.jpeg = std::move(encoded.jpeg);
  drawn.page.width = encoded.page.width, drawn.page.height = encoded.page.height;
}

}  // namespace

DrawnPicture picture_of(const cv::Mat& canvas) {
  DrawnPicture picture;
  picture.jpeg = images::encode_jpeg(
      {canvas.data, canvas.cols, canvas.rows, static_cast<std::ptrdiff_t>(canvas.step), true}, kJpegQuality);
  picture.page.width = canvas.cols, picture.page.height = canvas.rows;
  return picture;
}

std::vector<const RecordedShot*> shots_to_show(const std::vector<RecordedShot>& shots) {
  std::vector<const RecordedShot*> list;
  std::set<char> shown;
  for (const RecordedShot& shot : shots)
    for (const RecordedRuling& recorded : shot.rulings)
      if (recorded.factor.used && shown.insert(recorded.factor.direction).second &&
          (list.empty() || list.back() != &shot))
        list.push_back(&shot);
  return list;
}

DrawnPicture draw_shot(const RecordedShot& shot, const PictureSearch& search) noexcept {
  DrawnPicture drawn;
  try {
    drawn.page.caption = shot.image;
    drawn.page.description = description(shot);
    const Found found = find(shot, search);
    if (found.problem.empty())
      draw(drawn, shot, found.path);
    else
      drawn.page.missing = found.problem;
  } catch (const std::exception& error) {
    drawn.jpeg.clear();
    drawn.page.missing = std::string("it could not be drawn: ") + error.what();
  }
  return drawn;
}

}  // namespace gradus
