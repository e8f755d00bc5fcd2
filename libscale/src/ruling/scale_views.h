// One scale seen in several parts of a picture: views, and which of them belong together.
//
// A part that holds only the long lines of a scale shows it with a whole multiple of its pitch, and a tilted camera
// shows its parts with pitches of their own. So two views are one scale when the lines of the coarser one lie on lines
// of the finer one, or go on where those end, whatever straight lines were fitted through them.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include <scale/ruling.h>

namespace scale {

// A ruling, and the part of the picture in which it was measured; both in the picture's coordinates.
struct ScaleView {
  Ruling ruling;
  cv::Rect part;
};

cv::Point2d middle_of(const Graduation& line);
double length_of(const Graduation& line);

// Largest number that all indices are multiples of: 5 where only every fifth line was measured.
int common_step(const Ruling& ruling);

bool one_scale(const cv::Mat& picture, const Ruling& a, const Ruling& b);

// Could these be two scales? Lines of nearly one direction that lie beside each other must go out of step by a whole
// division over what is in view.
bool resolvable(const cv::Mat& picture, const Ruling& a, const Ruling& b);

// Views sorted into scales.
class Scales {
 public:
  explicit Scales(const cv::Mat& picture) : picture_(picture) {}
  void add(ScaleView view);
  void add(std::vector<ScaleView> views) {
    for (ScaleView& view : views) add(std::move(view));
  }
  std::size_t size() const { return best_.size(); }
  // Leaves out what has a few lines only beside two scales with many: pieces that could not be put together.
  void drop_fragments();
  // The best view of each scale: the finest division, then the most lines, then the longest; the scale with most lines
  // first.
  std::vector<ScaleView>& best() { return best_; }

 private:
  const cv::Mat& picture_;
  std::vector<ScaleView> best_;
};

}  // namespace scale
