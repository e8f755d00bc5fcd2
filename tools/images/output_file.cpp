#include "images/output_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <system_error>
#include <utility>

namespace images {
namespace {

namespace fs = std::filesystem;

std::string reason(int error_number) { return std::generic_category().message(error_number); }

WriteError unwritable(const std::string& path, const std::string& why) {
  return {"unwritable", path + ": cannot be written, " + why};
}

// Unique among the threads of this process and, by its number, among processes.
std::string temporary_name(const fs::path& target) {
  static std::atomic<unsigned> count{0};
  std::string name = ".";
  name += target.filename().string();
  name += ".part-" + std::to_string(getpid()) + "-" + std::to_string(++count);
  return (target.parent_path() / name).string();
}

// The file that `path` names in the end, or why no file can stand there.
tl::expected<std::string, std::string> final_target(const std::string& path) {
  const fs::path given(path);
  if (!given.has_filename()) return tl::unexpected<std::string>("it names a folder; give a file name");
  std::error_code error;
  const fs::file_status status = fs::status(given, error);
  if (fs::is_directory(status)) return tl::unexpected<std::string>("it is a folder; give a file name");
  if (!fs::exists(status)) {
    const fs::path linked = fs::read_symlink(given, error);  // empty when it is no link
    return (linked.empty() ? given : given.parent_path() / linked).string();
  }
  if (!fs::is_regular_file(status)) {
    return tl::unexpected<std::string>("it is a device or a pipe; give a file name, or - for standard output");
  }
  return fs::canonical(given, error).string();
}

}  // namespace

tl::expected<OutputFile, WriteError> OutputFile::create(const std::string& path) {
  const auto target = final_target(path);
  if (!target) return tl::unexpected(unwritable(path, target.error()));
  OutputFile file;
  file.path_ = path;
  file.target_ = *target;
  file.temporary_ = temporary_name(file.target_);
  file.descriptor_ = open(file.temporary_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (file.descriptor_ < 0) {
    const int cause = errno;
    file.temporary_.clear();
    const char* next = cause == ENOENT ? "; make its folder first" : "; check the rights of its folder";
    return tl::unexpected(unwritable(path, reason(cause) + next));
  }
  return file;
}

OutputFile::OutputFile(OutputFile&& other) noexcept
    : path_(std::move(other.path_)),
      target_(std::move(other.target_)),
      temporary_(std::exchange(other.temporary_, {})),
      descriptor_(std::exchange(other.descriptor_, -1)),
      failure_(std::move(other.failure_)) {}

OutputFile& OutputFile::operator=(OutputFile&& other) noexcept {
  if (this == &other) return *this;
  discard();
  path_ = std::move(other.path_);
  target_ = std::move(other.target_);
  temporary_ = std::exchange(other.temporary_, {});
  descriptor_ = std::exchange(other.descriptor_, -1);
  failure_ = std::move(other.failure_);
  return *this;
}

OutputFile::~OutputFile() { discard(); }

void OutputFile::discard() {
  if (descriptor_ >= 0) close(std::exchange(descriptor_, -1));
  if (!temporary_.empty()) unlink(std::exchange(temporary_, {}).c_str());
}

WriteResult OutputFile::fail(const std::string& why) {
  if (failure_.empty()) failure_ = why + "; free some space or choose another folder";
  return tl::unexpected(unwritable(path_, failure_));
}

WriteResult OutputFile::write(std::string_view bytes) {
  if (!failure_.empty()) return fail(failure_);
  while (!bytes.empty()) {
    const ssize_t done = ::write(descriptor_, bytes.data(), bytes.size());
    if (done < 0 && errno == EINTR) continue;
    if (done < 0) return fail(reason(errno));
    bytes.remove_prefix(done);
  }
  return {};
}

WriteResult OutputFile::commit() {
  if (!failure_.empty()) return fail(failure_);
  struct stat old {};
  const bool replaces = stat(target_.c_str(), &old) == 0;
  if (replaces && fchmod(descriptor_, old.st_mode & 07777) != 0) return fail(reason(errno));
  // On the disk before it has its name, or a power cut could leave an empty file under it.
  if (fsync(descriptor_) != 0) return fail(reason(errno));
  if (close(std::exchange(descriptor_, -1)) != 0) return fail(reason(errno));
  if (std::rename(temporary_.c_str(), target_.c_str()) != 0) return fail(reason(errno));
  temporary_.clear();
  return {};
}

WriteResult write_whole(const std::string& path, std::string_view bytes) {
  auto file = OutputFile::create(path);
  if (!file) return tl::unexpected(file.error());
  if (auto written = file->write(bytes); !written) return written;
  return file->commit();
}

}  // namespace images
