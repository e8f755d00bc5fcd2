// A picture as the engine sees it: one channel of samples that somebody else owns.
//
// Pixel coordinates, everywhere in this project:
//
//        (-0.5,-0.5)
//           +-------+-------+--> x
//           | (0,0) | (1,0) |        the CENTRE of the first pixel is (0, 0), as in OpenCV;
//           +-------+-------+        x runs to the right, y down; angles run from +x towards +y
//           | (0,1) | (1,1) |
//           +-------+-------+
//           v y
#pragma once

#include <cstddef>
#include <cstdint>

namespace scale {

enum class SampleType { u8, u16, f32 };

// Non-owning view of width x height samples; `row_bytes` is the distance between rows. Samples are taken as
// stored: no orientation, no gamma. `white` is the largest value the camera could write (255, 4095, 65535,
// or the largest finite sample of a float picture); samples at 0 or `white` count as saturated.
struct ImageView {
  const void* data = nullptr;
  int width = 0;
  int height = 0;
  std::ptrdiff_t row_bytes = 0;
  SampleType type = SampleType::u8;
  double white = 255.0;

  template <class Sample>
  const Sample* row(int y) const {
    return reinterpret_cast<const Sample*>(static_cast<const std::byte*>(data) + y * row_bytes);
  }
};

// The part of `image` whose top-left pixel is (x, y). Throws std::invalid_argument when it is not inside.
ImageView crop(const ImageView& image, int x, int y, int width, int height);

}  // namespace scale
