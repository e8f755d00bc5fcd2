// Notices what a library must not do: crash, hang, or write to standard output or standard error.
#pragma once

#include <functional>
#include <string>

namespace fuzz {

// Runs `work` in a process of its own and gives its exit code. When that process ends in the middle of a case (by a
// signal, or as the sanitizers do it), prints the case's name and its last words, and gives 3.
int outlive(const std::function<int()>& work);

// While it lives, inside outlive(), both standard streams go to a file, and a case that takes longer than `seconds` is
// ended. One at a time.
class Watch {
 public:
  Watch(const std::string& name, unsigned seconds);
  ~Watch();
  Watch(const Watch&) = delete;
  Watch& operator=(const Watch&) = delete;
  // What was printed since it began.
  std::string printed() const;

 private:
  int output_ = -1, errors_ = -1;
};

}  // namespace fuzz
