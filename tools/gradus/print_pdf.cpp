#include "print_pdf.h"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <sstream>
#include <thread>
#include <vector>

extern char** environ;

namespace gradus {
namespace {

namespace fs = std::filesystem;

constexpr std::chrono::seconds kPatience{90};  // a page takes one or two

// Ends with the process, or ends it.
bool wait_for(pid_t process) {
  const auto end = std::chrono::steady_clock::now() + kPatience;
  int status = 0;
  while (waitpid(process, &status, WNOHANG) == 0) {
    if (std::chrono::steady_clock::now() > end) {
      kill(process, SIGKILL);
      waitpid(process, &status, 0);
      return false;
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

bool run_quietly(std::vector<std::string> command) {
  std::vector<char*> arguments;
  for (std::string& word : command) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
  pid_t process = 0;
  const int failed = posix_spawn(&process, arguments[0], &actions, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  return failed == 0 && wait_for(process);
}

}  // namespace

std::string chromium_path() {
  const char* path = std::getenv("PATH");
  std::stringstream folders(path != nullptr ? path : "");
  for (std::string folder; std::getline(folders, folder, ':');)
    for (const char* name : {"chromium", "chromium-browser"})
      if (const fs::path program = fs::path(folder) / name; access(program.c_str(), X_OK) == 0) return program.string();
  return "";
}

std::string address_of(const std::string& path) {
  constexpr char kHexDigits[] = "0123456789ABCDEF";
  std::string address;
  for (const char character : path) {
    const auto byte = static_cast<unsigned char>(character);
    const bool plain = (byte >= 'a' && byte <= 'z') || (byte >= 'A' && byte <= 'Z') || (byte >= '0' && byte <= '9') ||
                       byte == '/' || byte == '-' || byte == '_' || byte == '.' || byte == '~';
    if (plain)
      address += character;
    else
      address += {'%', kHexDigits[byte >> 4U], kHexDigits[byte & 15U]};
  }
  return address;
}

std::string print_pdf(const std::string& page, const std::string& pdf) {
  const std::string by_hand = "; open " + page + " in a browser and print it from there";
  const std::string chromium = chromium_path();
  if (chromium.empty()) return pdf + ": not printed, there is no Chromium on this machine" + by_hand;
  std::string profile = (fs::temp_directory_path() / "gradus-print-XXXXXX").string();
  if (mkdtemp(profile.data()) == nullptr) return pdf + ": not printed, no temporary folder can be made" + by_hand;
  const fs::path unfinished = fs::path(profile) / "page.pdf";
  std::vector<std::string> command = {chromium,
                                      "--headless",
                                      "--disable-gpu",
                                      "--no-pdf-header-footer",
                                      "--user-data-dir=" + profile,
                                      "--print-to-pdf=" + unfinished.string()};
  // Chromium's sandbox does not start for root; the page is ours and may load nothing.
  if (geteuid() == 0) command.push_back("--no-sandbox");
  command.push_back("file://" + address_of(fs::absolute(page).lexically_normal().string()));
  std::error_code failure;
  const bool printed = run_quietly(command) && fs::exists(unfinished, failure);
  const fs::path beside =
      fs::path(pdf).parent_path() / std::string(".").append(fs::path(pdf).filename().string()).append(".part");
  if (printed && fs::copy_file(unfinished, beside, fs::copy_options::overwrite_existing, failure))
    fs::rename(beside, pdf, failure);
  std::error_code ignored;
  fs::remove_all(profile, ignored);
  if (!printed) return pdf + ": not printed, Chromium failed" + by_hand;
  return failure ? pdf + ": could not be written, " + failure.message() : "";
}

}  // namespace gradus
