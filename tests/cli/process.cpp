#include "process.h"

#include "support/drained.h"

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace cli_test {
namespace {

constexpr unsigned kNobody = 65534;

[[noreturn]] void become(const std::vector<std::string>& command, const Surroundings& surroundings, int output,
                         int errors) {
  std::vector<char*> arguments;
  for (const std::string& argument : command) arguments.push_back(const_cast<char*>(argument.c_str()));
  arguments.push_back(nullptr);
  const bool placed =
      chdir(surroundings.folder.c_str()) == 0 && dup2(output, STDOUT_FILENO) >= 0 && dup2(errors, STDERR_FILENO) >= 0;
  const bool lowered = !surroundings.unprivileged || (setgid(kNobody) == 0 && setuid(kNobody) == 0);
  setenv("LC_ALL", surroundings.locale.empty() ? "C" : surroundings.locale.c_str(), 1);
  if (placed && lowered) execv(arguments[0], arguments.data());
  _exit(127);
}

double seconds(const timeval& time) {
  return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
}

}  // namespace

Finished run(const std::vector<std::string>& command, const Surroundings& surroundings) {
  std::FILE* output = std::tmpfile();
  std::FILE* errors = std::tmpfile();
  if (output == nullptr || errors == nullptr) throw std::runtime_error("no temporary file");
  const pid_t child = fork();
  if (child == 0) become(command, surroundings, fileno(output), fileno(errors));
  int status = 0;
  rusage used{};
  if (child < 0 || wait4(child, &status, 0, &used) != child) throw std::runtime_error("the program did not start");
  Finished finished;
  finished.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  finished.processor_seconds = seconds(used.ru_utime) + seconds(used.ru_stime);
  finished.output = support::drained(output);
  finished.errors = support::drained(errors);
  return finished;
}

Finished gradus(const std::vector<std::string>& arguments, const Surroundings& surroundings) {
  std::vector<std::string> command = {GRADUS_PROGRAM};
  command.insert(command.end(), arguments.begin(), arguments.end());
  return run(command, surroundings);
}

TemporaryFolder::TemporaryFolder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "gradus-cli-XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
  path_ = pattern;
  // The unprivileged runs must be able to enter it.
  std::filesystem::permissions(path_, std::filesystem::perms::others_read | std::filesystem::perms::others_exec,
                               std::filesystem::perm_options::add);
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

void write_file(const std::filesystem::path& path, const std::string& bytes) {
  std::filesystem::create_directories(path.parent_path());
  std::ofstream file(path, std::ios::binary);
  file << bytes;
  if (!file.flush()) throw std::runtime_error("cannot write " + path.string());
}

std::string read_file(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error("cannot read " + path.string());
  std::ostringstream bytes;
  bytes << file.rdbuf();
  return bytes.str();
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

}  // namespace cli_test
