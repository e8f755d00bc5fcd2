// Calls into libraries written in C that leave by longjmp. Internal.
#pragma once

#include <csetjmp>

namespace images {

// Runs `step`; false when it left by longjmp to `environment`. A jump runs no destructors, so `step` must make
// no objects that have any: what it needs lives outside.
template <class Step>
bool guarded(std::jmp_buf& environment, const Step& step) {
  if (setjmp(environment) != 0) return false;
  step();
  return true;
}

}  // namespace images
