#include "child.h"

#include "support/drained.h"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <stdexcept>

namespace bench {
namespace {

constexpr double kBytesPerUnit = 1024.0;  // Linux gives ru_maxrss in KiB

[[noreturn]] void become(const std::vector<std::string>& command, int output) {
  std::vector<char*> arguments;
  for (const std::string& argument : command) arguments.push_back(const_cast<char*>(argument.c_str()));
  arguments.push_back(nullptr);
  if (dup2(output, STDOUT_FILENO) >= 0) execv(arguments[0], arguments.data());
  _exit(127);
}

}  // namespace

Cost run(const std::vector<std::string>& command) {
  std::FILE* output = std::tmpfile();
  if (output == nullptr) throw std::runtime_error("no temporary file");
  const auto start = std::chrono::steady_clock::now();
  const pid_t child = fork();
  if (child == 0) become(command, fileno(output));
  int status = 0;
  rusage usage{};
  if (child < 0 || wait4(child, &status, 0, &usage) != child) throw std::runtime_error(command[0] + " did not start");
  Cost cost;
  cost.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  cost.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  cost.peak_bytes = kBytesPerUnit * static_cast<double>(usage.ru_maxrss);
  cost.output = support::drained(output);
  return cost;
}

double own_peak_bytes() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return kBytesPerUnit * static_cast<double>(usage.ru_maxrss);
}

}  // namespace bench
