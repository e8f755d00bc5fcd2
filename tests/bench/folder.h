// Many pictures: threads and memory.
#pragma once

#include <filesystem>

#include "figures.h"

namespace bench {

// A folder of `count` pictures `width` pixels wide with --jobs 1 and --jobs 2 by turns: median of the ratios.
void measure_jobs(Figures& figures, const std::filesystem::path& cache, int width, int count, int runs, double least);

// Peak resident size with ten times as many pictures over that with `count`.
void measure_folder_memory(Figures& figures, const std::filesystem::path& cache, int width, int count, double most);

}  // namespace bench
