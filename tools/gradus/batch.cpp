#include "batch.h"

#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/parallel_pipeline.h>
#include <oneapi/tbb/task_arena.h>

#include <opencv2/core/utility.hpp>

namespace gradus {
namespace {

using Index = std::size_t;

// Gives the numbers below `count` one after the other; `next` belongs to the caller, as the library copies this.
tbb::filter<void, Index> source(Index& next, std::size_t count) {
  return tbb::make_filter<void, Index>(tbb::filter_mode::serial_in_order, [&next, count](tbb::flow_control& control) {
    if (next == count) {
      control.stop();
      return next;
    }
    return next++;
  });
}

}  // namespace

void run_in_order(std::size_t count, int jobs, const std::function<void(std::size_t)>& work,
                  const std::function<void(std::size_t)>& hand_on) {
  const auto threads = static_cast<std::size_t>(jobs);
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
  cv::setNumThreads(1);  // OpenCV would start threads of its own beside those counted here
  tbb::task_arena arena(jobs);
  // Isolated, as a thread that waits inside one image could else begin another and hold both.
  const auto isolated = [&](Index index) {
    tbb::this_task_arena::isolate([&] { work(index); });
    return index;
  };
  Index next = 0;
  const auto stages = source(next, count) & tbb::make_filter<Index, Index>(tbb::filter_mode::parallel, isolated) &
                      tbb::make_filter<Index, void>(tbb::filter_mode::serial_in_order, hand_on);
  arena.execute([&] { tbb::parallel_pipeline(under_way(jobs), stages); });
}

}  // namespace gradus
