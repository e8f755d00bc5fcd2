#include "pool.h"

#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/parallel_for.h>
#include <oneapi/tbb/partitioner.h>
#include <oneapi/tbb/task_arena.h>

#include <algorithm>

namespace accuracy {

void for_each_scene(int jobs, std::size_t count, const std::function<void(std::size_t)>& work) {
  const oneapi::tbb::global_control threads(oneapi::tbb::global_control::max_allowed_parallelism,
                                            static_cast<std::size_t>(std::max(1, jobs)));
  oneapi::tbb::task_arena all(jobs);
  all.execute([&] {
    const oneapi::tbb::blocked_range<std::size_t> scenes(0, count, 1);
    oneapi::tbb::parallel_for(
        scenes,
        [&](const auto& range) {
          for (std::size_t i = range.begin(); i != range.end(); ++i) {
            oneapi::tbb::task_arena one(1);
            one.execute([&] { work(i); });
          }
        },
        oneapi::tbb::simple_partitioner());
  });
}

}  // namespace accuracy
