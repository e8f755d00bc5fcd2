#include "images/list_images.h"

#include <algorithm>
#include <array>
#include <filesystem>
#include <string_view>
#include <system_error>

namespace images {
namespace {

namespace fs = std::filesystem;

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }  // no locale

bool has_image_name(const fs::path& path) {
  static constexpr std::array<std::string_view, 6> kEndings{".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp"};
  std::string ending = path.extension().string();
  std::ranges::transform(ending, ending.begin(), lower);
  return std::ranges::find(kEndings, ending) != kEndings.end();
}

bool is_hidden(const fs::path& path) { return path.filename().string().starts_with('.'); }

ReadError unreadable(const std::string& path, const std::error_code& error) {
  return {"unreadable", path + ": " + error.message() + "; check the rights of the folder"};
}

// Appends what `folder` holds; says why when it, or a folder inside, cannot be read.
std::optional<ReadError> collect(const fs::path& folder, bool recursive, PathList& found) {
  std::error_code error;
  fs::directory_iterator entry(folder, error);
  for (; !error && entry != fs::directory_iterator(); entry.increment(error)) {
    if (is_hidden(entry->path())) continue;
    std::error_code ignored;  // a dangling link is a file that read_image will name
    const bool is_folder = entry->is_directory(ignored);
    if (is_folder && recursive && !entry->is_symlink(ignored)) {
      if (auto inner = collect(entry->path(), recursive, found)) return inner;
    }
    if (!is_folder && has_image_name(entry->path())) found.add(entry->path().native());
  }
  if (error) return unreadable(folder.string(), error);
  return std::nullopt;
}

}  // namespace

tl::expected<PathList, ReadError> list_images(const std::string& folder, bool recursive) {
  std::error_code error;
  const fs::file_status status = fs::status(folder, error);
  if (status.type() == fs::file_type::not_found) {
    return tl::unexpected(ReadError{"missing", folder + ": no such folder; check the name"});
  }
  if (error) return tl::unexpected(unreadable(folder, error));
  if (!fs::is_directory(status)) {
    return tl::unexpected(ReadError{"unreadable", folder + ": not a folder; give it as a picture"});
  }
  PathList found;
  if (auto failure = collect(folder, recursive, found)) return tl::unexpected(*failure);
  if (found.empty()) {
    const std::string next = recursive ? "check the name" : "check the name, or add --recursive for folders inside";
    return tl::unexpected(ReadError{"no-images", folder + ": no PNG, JPEG, TIFF or BMP files in it; " + next});
  }
  found.sort();
  return found;
}

}  // namespace images
