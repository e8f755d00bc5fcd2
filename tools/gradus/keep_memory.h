// How the program treats memory; what measures its time does the same.
#pragma once

#include <malloc.h>

namespace gradus {

// Pictures of one size after the other need the same large blocks again: kept, they save a tenth of the time, which
// went into handing cleared pages back and forth with the system.
inline void keep_memory() {
  constexpr int kLargestBlock = 32 << 20, kKept = 256 << 20;  // bytes; the former is as much as the C library allows
  mallopt(M_MMAP_THRESHOLD, kLargestBlock);
  mallopt(M_TRIM_THRESHOLD, kKept);
}

}  // namespace gradus
