#include "watch.h"

#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <cstdio>
#include <cstring>
#include <stdexcept>

namespace fuzz {
namespace {

// Seen by both processes.
struct Shared {
  char current[512];  // name of the case that runs; empty between cases
};

Shared* shared = nullptr;
int captured = -1;  // the file that the streams go to

std::string text_of_file() {
  std::string text(static_cast<std::size_t>(lseek(captured, 0, SEEK_END)), '\0');
  if (pread(captured, text.data(), text.size(), 0) != static_cast<ssize_t>(text.size())) text = "unknown";
  return text;
}

void prepare() {
  void* page = mmap(nullptr, sizeof(Shared), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  char path[] = "/tmp/gradus-fuzz-XXXXXX";
  captured = mkstemp(path);
  if (page == MAP_FAILED || captured < 0) throw std::runtime_error("no temporary file or memory");
  unlink(path);
  shared = static_cast<Shared*>(page);  // all zeros
}

}  // namespace

int outlive(const std::function<int()>& work) {
  prepare();
  std::fflush(nullptr);
  const pid_t child = fork();
  if (child == 0) {
    const int code = work();
    std::fflush(nullptr);
    _exit(code);
  }
  int status = 0;
  if (child < 0 || waitpid(child, &status, 0) != child) throw std::runtime_error("no process could be started");
  const bool hung = WIFSIGNALED(status) && WTERMSIG(status) == SIGALRM;
  if (shared->current[0] == '\0' && WIFEXITED(status)) return WEXITSTATUS(status);
  std::fprintf(stderr, "%s: %s\n%s\n", shared->current, hung ? "hangs" : "crashes", text_of_file().c_str());
  return 3;
}

Watch::Watch(const std::string& name, unsigned seconds) {
  std::snprintf(shared->current, sizeof shared->current, "%s", name.c_str());
  std::fflush(nullptr);
  if (ftruncate(captured, 0) != 0) throw std::runtime_error("the temporary file cannot be emptied");
  lseek(captured, 0, SEEK_SET);
  output_ = dup(STDOUT_FILENO);
  errors_ = dup(STDERR_FILENO);
  dup2(captured, STDOUT_FILENO);
  dup2(captured, STDERR_FILENO);
  alarm(seconds);
}

Watch::~Watch() {
  alarm(0);
  std::fflush(nullptr);
  dup2(output_, STDOUT_FILENO);
  dup2(errors_, STDERR_FILENO);
  for (const int descriptor : {output_, errors_}) close(descriptor);
  shared->current[0] = '\0';
}

std::string Watch::printed() const {
  std::fflush(nullptr);
  return text_of_file();
}

}  // namespace fuzz
