// Loops that are worth a second build for processors with wider vectors (AVX2), chosen when the program starts. Only
// for sums of whole numbers, whose result does not hang on their order: every processor gives the same bytes.
#pragma once

// Not under the address sanitizer, which is not ready when the choice is made.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__)
#define SCALE_WIDE_LOOP [[gnu::target_clones("avx2", "default")]]
#else
#define SCALE_WIDE_LOOP
#endif
