// Runs a program as a person would and keeps what it said.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace cli_test {

struct Finished {
  int exit_code = -1;  // 128 + signal when it was killed
  std::string output, errors;
  double processor_seconds = 0.0;  // its own and the system's for it, which do not hang on what else runs
};

struct Surroundings {
  std::filesystem::path folder = ".";  // working directory
  bool unprivileged = false;           // as user 65534, for whom permissions count (only root can ask for it)
  std::string locale;                  // LC_ALL; empty: "C"
};

Finished run(const std::vector<std::string>& command, const Surroundings& surroundings = {});

// The built gradus with `arguments`.
Finished gradus(const std::vector<std::string>& arguments, const Surroundings& surroundings = {});

// A folder of its own for one test, removed with all in it.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

void write_file(const std::filesystem::path& path, const std::string& bytes);
std::string read_file(const std::filesystem::path& path);

// Lines, without their ends; an unfinished last line counts.
std::vector<std::string> lines_of(const std::string& text);

}  // namespace cli_test
