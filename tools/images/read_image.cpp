#include "images/read_image.h"

#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <new>
#include <system_error>

#include "images/reader.h"

namespace images {
namespace {

using Reader = ReadResult (*)(Input&, const ReadOptions&);

constexpr std::size_t kMagicBytes = 8;

bool starts_with(const std::array<char, kMagicBytes>& bytes, const char* magic, std::size_t count) {
  return std::memcmp(bytes.data(), magic, count) == 0;
}

Reader reader_for(const std::array<char, kMagicBytes>& magic) {
  if (starts_with(magic, "\x89PNG\r\n\x1A\n", 8)) return read_png;
  if (starts_with(magic, "\xFF\xD8\xFF", 3)) return read_jpeg;
  for (const char* tiff : {"II*\0", "MM\0*", "II+\0", "MM\0+"}) {
    if (starts_with(magic, tiff, 4)) return read_tiff;
  }
  if (starts_with(magic, "BM", 2)) return read_bmp;
  return nullptr;
}

std::string reason(int error_number) { return std::generic_category().message(error_number); }

tl::expected<Input, ReadError> open_input(const std::string& path) {
  namespace fs = std::filesystem;
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  if (status.type() == fs::file_type::not_found) {
    return tl::unexpected(ReadError{"missing", kNoSuchFile});
  }
  if (error) return tl::unexpected(ReadError{"unreadable", error.message() + "; check the path and its rights"});
  if (fs::is_directory(status)) {
    return tl::unexpected(ReadError{"folder", "a folder, not a picture; give its files"});
  }
  if (!fs::is_regular_file(status)) {
    return tl::unexpected(ReadError{"unreadable", "not a regular file; copy the picture to a file first"});
  }
  Input input;
  input.file.reset(std::fopen(path.c_str(), "rbe"));
  if (!input.file) return tl::unexpected(ReadError{"unreadable", reason(errno) + "; check the rights of the file"});
  input.bytes = fs::file_size(path, error);
  if (error) return tl::unexpected(ReadError{"unreadable", error.message() + "; try again"});
  if (input.bytes == 0) return tl::unexpected(ReadError{"empty", "the file is empty; export it again"});
  return input;
}

ReadResult read_opened(Input& input, const ReadOptions& options) {
  std::array<char, kMagicBytes> magic{};
  const std::size_t got = std::fread(magic.data(), 1, magic.size(), input.file.get());
  if (got == 0 || std::fseek(input.file.get(), 0, SEEK_SET) != 0) {
    return tl::unexpected(ReadError{"unreadable", "its first bytes cannot be read; check the file"});
  }
  const Reader reader = reader_for(magic);
  if (reader == nullptr) {
    return tl::unexpected(ReadError{"not-an-image", "not a PNG, JPEG, TIFF or BMP picture; save it as one of these"});
  }
  try {
    return reader(input, options);
  } catch (const std::bad_alloc&) {
    return tl::unexpected(ReadError{"too-large", "not enough memory to read it; crop the picture"});
  }
}

}  // namespace

tl::expected<Picture, ReadError> read_image(const std::string& path, const ReadOptions& options) {
  auto input = open_input(path);
  ReadResult result = input ? read_opened(*input, options) : ReadResult(tl::unexpected(input.error()));
  if (!result) return tl::unexpected(ReadError{result.error().code, path + ": " + result.error().message});
  return result;
}

}  // namespace images
