#include "image/row_sums.h"

#include "numeric/wide.h"

namespace scale {

SCALE_WIDE_LOOP void add_row(const std::uint8_t* samples, std::size_t n, std::uint16_t* sums) {
  for (std::size_t x = 0; x < n; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + samples[x]);
}

SCALE_WIDE_LOOP void add_row(const std::uint8_t* samples, std::size_t n, std::uint32_t* sums) {
  for (std::size_t x = 0; x < n; ++x) sums[x] += samples[x];
}

SCALE_WIDE_LOOP void add_rows(const std::array<const std::uint8_t*, 2>& rows, std::size_t n, std::uint16_t* sums) {
  const std::uint8_t *a = rows[0], *b = rows[1];
  for (std::size_t x = 0; x < n; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + a[x] + b[x]);
}

SCALE_WIDE_LOOP void add_rows(const std::array<const std::uint8_t*, 4>& rows, std::size_t n, std::uint16_t* sums) {
  const std::uint8_t *a = rows[0], *b = rows[1], *c = rows[2], *d = rows[3];
  for (std::size_t x = 0; x < n; ++x) sums[x] = static_cast<std::uint16_t>(sums[x] + a[x] + b[x] + c[x] + d[x]);
}

}  // namespace scale
