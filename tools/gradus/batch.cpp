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

void run_batch(const std::vector<Input>& inputs, int jobs, const std::function<Outcome(const Input&)>& examine,
               const std::function<void(Outcome&&)>& collect) {
  const auto threads = static_cast<std::size_t>(jobs);
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
  cv::setNumThreads(1);  // OpenCV would start threads of its own beside those counted here
  tbb::task_arena arena(jobs);
  // Isolated, as a thread that waits inside one image could else begin another and hold both.
  const auto work = [&](Index index) { return tbb::this_task_arena::isolate([&] { return examine(inputs[index]); }); };
  const auto hand_on = [&](Outcome outcome) { collect(std::move(outcome)); };
  Index next = 0;
  const auto stages = source(next, inputs.size()) & tbb::make_filter<Index, Outcome>(tbb::filter_mode::parallel, work) &
                      tbb::make_filter<Outcome, void>(tbb::filter_mode::serial_in_order, hand_on);
  arena.execute([&] { tbb::parallel_pipeline(threads + 1, stages); });
}

}  // namespace gradus
