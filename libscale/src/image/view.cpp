#include <stdexcept>

#include <scale/image.h>

namespace scale {

namespace {
std::ptrdiff_t sample_bytes(SampleType type) { return type == SampleType::u8 ? 1 : type == SampleType::u16 ? 2 : 4; }
}  // namespace

ImageView crop(const ImageView& image, int x, int y, int width, int height) {
  if (x < 0 || y < 0 || width < 1 || height < 1 || width > image.width - x || height > image.height - y)
    throw std::invalid_argument("crop: the region must lie inside the image and hold at least one pixel");
  ImageView part = image;
  part.data = static_cast<const std::byte*>(image.data) + y * image.row_bytes + x * sample_bytes(image.type);
  part.width = width;
  part.height = height;
  return part;
}

}  // namespace scale
