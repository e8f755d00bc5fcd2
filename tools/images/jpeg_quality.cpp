#include "images/jpeg_quality.h"

#include <algorithm>
#include <cstdlib>
#include <limits>

namespace images {
namespace {

long distance(const JQUANT_TBL& a, const JQUANT_TBL& b) {
  long sum = 0;
  for (int i = 0; i < DCTSIZE2; ++i) sum += std::abs(long{a.quantval[i]} - long{b.quantval[i]});
  return sum;
}

}  // namespace

std::optional<int> jpeg_quality_of(const JQUANT_TBL* table) {
  if (table == nullptr) return std::nullopt;
  // The library scales its own table; nothing is compressed, so no error can come.
  jpeg_error_mgr errors{};
  jpeg_compress_struct compress{};
  compress.err = jpeg_std_error(&errors);
  jpeg_create_compress(&compress);
  compress.in_color_space = JCS_GRAYSCALE;
  compress.input_components = 1;
  jpeg_set_defaults(&compress);
  int nearest = 0;
  long least = std::numeric_limits<long>::max();
  for (int quality = 1; quality <= 100; ++quality) {
    jpeg_set_quality(&compress, quality, TRUE);  // steps of 8 bits, as in a baseline file
    const long difference = distance(*table, *compress.quant_tbl_ptrs[0]);
    if (difference <= least) nearest = quality;
    least = std::min(least, difference);
  }
  jpeg_destroy_compress(&compress);
  return nearest;
}

}  // namespace images
