// Many scenes at once, one thread each, results in the order of the scenes whatever the number of threads.
#pragma once

#include <cstddef>
#include <functional>

namespace accuracy {

/// Calls work(0) to work(count - 1) on `jobs` threads. Inside a call oneTBB has that one thread only: the engine's
/// own loops would otherwise start further scenes while one waits.
void for_each_scene(int jobs, std::size_t count, const std::function<void(std::size_t)>& work);

}  // namespace accuracy
