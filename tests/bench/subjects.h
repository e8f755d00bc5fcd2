// The pictures that are timed: rendered once, kept in a folder for the next run.
#pragma once

#include <filesystem>
#include <string>

namespace bench {

struct Subject {
  std::filesystem::path picture;
  double pitch_px = 0.0;  // the truth beside it
  double pixels = 0.0;
};

// A stage micrometer of 101 lines across `width` x 2/3 `width` pixels, with photon and read noise, dust and uneven
// light: grey, 8 bits, as .jpg of quality 90 or as .png. Another seed gives another angle, place and noise.
Subject micrometer(const std::filesystem::path& cache, int width, int seed, const std::string& format);

// A folder of `count` names of a few such pictures; empty before.
std::filesystem::path folder_of(const std::filesystem::path& cache, int width, int count);

// Is that the factor of the subject, with 10 um a division? Within 1e-4: far above the fit's uncertainty, far below
// a line miscounted.
bool is_right(double um_per_pixel, const Subject& subject);

}  // namespace bench
