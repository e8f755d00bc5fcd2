// Rows of samples added to sums, the loops that every pixel goes through.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace scale {

template <class Sample, class Sum>
void add_row(const Sample* samples, std::size_t n, Sum* sums) {
  for (std::size_t x = 0; x < n; ++x) sums[x] = static_cast<Sum>(sums[x] + samples[x]);
}

// Several rows at once: the sums are loaded and stored once for all of them.
template <class Sample, class Sum>
void add_rows(const std::array<const Sample*, 2>& rows, std::size_t n, Sum* sums) {
  const Sample *a = rows[0], *b = rows[1];
  for (std::size_t x = 0; x < n; ++x) sums[x] = static_cast<Sum>(sums[x] + static_cast<Sum>(a[x] + b[x]));
}
template <class Sample, class Sum>
void add_rows(const std::array<const Sample*, 4>& rows, std::size_t n, Sum* sums) {
  const Sample *a = rows[0], *b = rows[1], *c = rows[2], *d = rows[3];
  for (std::size_t x = 0; x < n; ++x)
    sums[x] = static_cast<Sum>(sums[x] + static_cast<Sum>(a[x] + b[x]) + static_cast<Sum>(c[x] + d[x]));
}

// The same of bytes, on the widest registers there are.
void add_row(const std::uint8_t* samples, std::size_t n, std::uint16_t* sums);
void add_row(const std::uint8_t* samples, std::size_t n, std::uint32_t* sums);
void add_rows(const std::array<const std::uint8_t*, 2>& rows, std::size_t n, std::uint16_t* sums);
void add_rows(const std::array<const std::uint8_t*, 4>& rows, std::size_t n, std::uint16_t* sums);

}  // namespace scale
