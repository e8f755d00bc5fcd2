#include "inputs.h"

#include <images/list_images.h>

#include <filesystem>
#include <set>

#include "pictures.h"

namespace gradus {
namespace {

namespace fs = std::filesystem;

bool is_folder(const std::string& path) {
  std::error_code ignored;
  return fs::is_directory(path, ignored);
}

bool is_missing(const std::string& path) {
  std::error_code ignored;
  return fs::status(path, ignored).type() == fs::file_type::not_found;
}

// "./a.png" and "a.png" are one file; links are left alone, as their names may mean two set-ups.
std::string identity(const std::string& path) { return fs::path(path).lexically_normal().string(); }

std::vector<Input> images_of(const std::string& argument, bool recursive) {
  if (is_missing(argument)) return {{argument, "", argument + ": " + images::kNoSuchFile}};
  if (!is_folder(argument)) return {{argument, "", ""}};
  const auto listed = images::list_images(argument, recursive);
  if (!listed) return {{argument, "", listed.error().message}};
  std::vector<Input> inputs;
  for (const std::string& path : *listed) inputs.push_back({path, "", ""});
  return inputs;
}

}  // namespace

InputList list_inputs(const std::vector<std::string>& arguments, bool recursive) {
  InputList list;
  std::set<std::string> known;
  PictureNames names;
  for (const std::string& argument : arguments) {
    for (Input& input : images_of(argument, recursive)) {
      if (!known.insert(identity(input.path)).second) {
        list.repeated.push_back(input.path);
        continue;
      }
      input.picture_name = names.name_for(input.path);
      list.inputs.push_back(std::move(input));
    }
  }
  return list;
}

}  // namespace gradus
