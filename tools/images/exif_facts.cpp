#include "images/exif_facts.h"

#include <libexif/exif-data.h>

#include <algorithm>
#include <memory>
#include <string>
#include <vector>

namespace images {
namespace {

using DataHandle = std::unique_ptr<ExifData, decltype(&exif_data_unref)>;

const ExifEntry* find(const ExifData& data, ExifTag tag, ExifFormat format, unsigned bytes) {
  const ExifEntry* entry = exif_content_get_entry(data.ifd[EXIF_IFD_0], tag);
  const bool usable = entry != nullptr && entry->data != nullptr && entry->format == format && entry->size >= bytes;
  return usable ? entry : nullptr;
}

int number(ExifData& data, ExifTag tag, int otherwise) {
  const ExifEntry* entry = find(data, tag, EXIF_FORMAT_SHORT, 2);
  return entry == nullptr ? otherwise : exif_get_short(entry->data, exif_data_get_byte_order(&data));
}

std::string text(ExifData& data, ExifTag tag) {
  const ExifEntry* entry = find(data, tag, EXIF_FORMAT_ASCII, 1);
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
  const double x = ratio(*data, EXIF_TAG_X_RESOLUTION);
  const double y = ratio(*data, EXIF_TAG_Y_RESOLUTION);
  if (x <= 0.0 || y <= 0.0) return;
  const bool centimetres = number(*data, EXIF_TAG_RESOLUTION_UNIT, 2) == 3;  // 2, inches, by default
  facts.resolution.push_back({"Exif", x, y, centimetres ? "per centimetre" : "per inch"});
}

}  // namespace images
