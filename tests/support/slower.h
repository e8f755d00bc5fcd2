// Limits of time are for programs as they are delivered.
#pragma once

namespace test_support {

// How much slower the program may be than its limit says: the address sanitizer alone starts in a tenth of a second.
#ifdef __SANITIZE_ADDRESS__
inline constexpr double kSlower = 20.0;
#else
inline constexpr double kSlower = 1.0;
#endif

}  // namespace test_support
