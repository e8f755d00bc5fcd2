// Output files that appear whole or not at all.
#pragma once

#include <string>
#include <string_view>
#include <tl/expected.hpp>

namespace images {

// `code` is `unwritable`; `message` is one line: the path, the cause, the next step.
struct WriteError {
  std::string code;
  std::string message;
};

using WriteResult = tl::expected<void, WriteError>;

// A file under a temporary, hidden name in the folder of `path`, which takes that name on commit() and is removed
// otherwise. What stood there before is replaced in one step (a link stays a link, its target is replaced).
class OutputFile {
 public:
  [[nodiscard]] static tl::expected<OutputFile, WriteError> create(const std::string& path);
  OutputFile(OutputFile&& other) noexcept;
  OutputFile& operator=(OutputFile&& other) noexcept;
  ~OutputFile();

  // After an error all further writes and the commit give the same error.
  WriteResult write(std::string_view bytes);
  // Once, when all is written.
  [[nodiscard]] WriteResult commit();

 private:
  OutputFile() = default;
  WriteResult fail(const std::string& reason);
  void discard();

  std::string path_;       // as given, for messages
  std::string target_;     // links followed
  std::string temporary_;  // empty once committed or discarded
  int descriptor_ = -1;
  std::string failure_;  // first reason; empty: none
};

// A whole file at once.
[[nodiscard]] WriteResult write_whole(const std::string& path, std::string_view bytes);

}  // namespace images
