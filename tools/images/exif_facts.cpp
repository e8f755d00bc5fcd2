#include "images/exif_facts.h"

#include <libexif/exif-data.h>

#include <algorithm>
#include <memory>
#include <string>
#include <vector>

namespace images {
namespace {

using DataHandle = std::unique_ptr<ExifData, decltype(&exif_data_unref)>;

const ExifEntry* find(const ExifData& data, ExifTag tag, ExifFormat format, unsigned bytes, ExifIfd part = EXIF_IFD_0) {
  const ExifEntry* entry = exif_content_get_entry(data.ifd[part], tag);
  const bool usable = entry != nullptr && entry->data != nullptr && entry->format == format && entry->size >= bytes;
  return usable ? entry : nullptr;
}

int number(ExifData& data, ExifTag tag, int otherwise) {
  const ExifEntry* entry = find(data, tag, EXIF_FORMAT_SHORT, 2);
  return entry == nullptr ? otherwise : exif_get_short(entry->data, exif_data_get_byte_order(&data));
}

std::string text(ExifData& data, ExifTag tag, ExifIfd part = EXIF_IFD_0) {
  const ExifEntry* entry = find(data, tag, EXIF_FORMAT_ASCII, 1, part);
  if (entry == nullptr) return {};
  std::string value(reinterpret_cast<const char*>(entry->data), entry->size);
  value.erase(std::min(value.find('\0'), value.size()));
  value.erase(value.find_last_not_of(' ') + 1);  // some cameras pad their names
  return value;
}

double ratio(ExifData& data, ExifTag tag) {
  const ExifEntry* entry = find(data, tag, EXIF_FORMAT_RATIONAL, 8);
  if (entry == nullptr) return 0.0;
  const ExifRational value = exif_get_rational(entry->data, exif_data_get_byte_order(&data));
  return value.denominator == 0 ? 0.0 : static_cast<double>(value.numerator) / value.denominator;
}

// One of the two numbers a camera writes of its picture's size: SHORT or LONG.
int side(ExifData& data, ExifTag tag) {
  const ExifByteOrder order = exif_data_get_byte_order(&data);
  if (const ExifEntry* entry = find(data, tag, EXIF_FORMAT_SHORT, 2, EXIF_IFD_EXIF))
    return exif_get_short(entry->data, order);
  const ExifEntry* entry = find(data, tag, EXIF_FORMAT_LONG, 4, EXIF_IFD_EXIF);
  const ExifLong value = entry == nullptr ? 0 : exif_get_long(entry->data, order);
  return value < 1'000'000 ? static_cast<int>(value) : 0;
}

// Of the small picture inside: the frame header of its JPEG (ITU-T T.81, B.2.2), found by walking the markers.
std::optional<SizeInPixels> thumbnail_size(std::span<const unsigned char> jpeg) {
  if (jpeg.size() < 4 || jpeg[0] != 0xFF || jpeg[1] != 0xD8) return std::nullopt;
  for (std::size_t at = 2; at + 9 < jpeg.size() && jpeg[at] == 0xFF;) {
    const unsigned marker = jpeg[at + 1];
    const auto number_at = [&](std::size_t place) { return jpeg[place] << 8 | jpeg[place + 1]; };
    if (marker >= 0xC0 && marker <= 0xC2) return SizeInPixels{number_at(at + 7), number_at(at + 5)};
    at += 2U + static_cast<std::size_t>(number_at(at + 2));
  }
  return std::nullopt;
}

void read_sizes(ExifData& data, FileFacts& facts) {
  const int width = side(data, EXIF_TAG_PIXEL_X_DIMENSION), height = side(data, EXIF_TAG_PIXEL_Y_DIMENSION);
  if (width > 0 && height > 0) facts.original = SizeInPixels{width, height};
  if (data.data == nullptr) return;
  const auto small = thumbnail_size({data.data, data.size});
  if (small && small->width > 0 && small->height > 0) facts.thumbnail = small;
}

}  // namespace

void read_exif(std::span<const unsigned char> block, FileFacts& facts) {
  static constexpr unsigned char kPrefix[] = {'E', 'x', 'i', 'f', 0, 0};
  std::vector<unsigned char> bytes(std::begin(kPrefix), std::end(kPrefix));
  bytes.insert(bytes.end(), block.begin(), block.end());
  const DataHandle data(exif_data_new_from_data(bytes.data(), static_cast<unsigned>(bytes.size())), exif_data_unref);
  if (!data) return;
  const int orientation = number(*data, EXIF_TAG_ORIENTATION, 1);
  facts.orientation = orientation >= 1 && orientation <= 8 ? orientation : 1;
  facts.make = text(*data, EXIF_TAG_MAKE);
  facts.model = text(*data, EXIF_TAG_MODEL);
  facts.taken = text(*data, EXIF_TAG_DATE_TIME_ORIGINAL, EXIF_IFD_EXIF);
  read_sizes(*data, facts);
  const double x = ratio(*data, EXIF_TAG_X_RESOLUTION);
  const double y = ratio(*data, EXIF_TAG_Y_RESOLUTION);
  if (x <= 0.0 || y <= 0.0) return;
  const bool centimetres = number(*data, EXIF_TAG_RESOLUTION_UNIT, 2) == 3;  // 2, inches, by default
  facts.resolution.push_back({"Exif", x, y, centimetres ? "per centimetre" : "per inch"});
}

}  // namespace images
