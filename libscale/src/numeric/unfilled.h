// A vector whose elements are not set to zero when it is made: for large ones of which every element is written anyway.
#pragma once

#include <memory>
#include <new>
#include <utility>
#include <vector>

namespace scale::numeric {

template <class T>
struct UnfilledAllocator : std::allocator<T> {
  template <class U>
  struct rebind {
    using other = UnfilledAllocator<U>;
  };
  template <class U>
  void construct(U* place) noexcept {
    ::new (static_cast<void*>(place)) U;
  }
  template <class U, class... Arguments>
  void construct(U* place, Arguments&&... arguments) {
    std::construct_at(place, std::forward<Arguments>(arguments)...);
  }
};

template <class T>
using UnfilledVector = std::vector<T, UnfilledAllocator<T>>;

}  // namespace scale::numeric
