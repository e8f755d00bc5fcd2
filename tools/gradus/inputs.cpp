#include "inputs.h"

#include <images/list_images.h>

#include <algorithm>
#include <filesystem>
#include <functional>
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

// Whether two of these texts may be the same: eight bytes a text tell that, where the texts would fill memory.
template <class TextOf>
bool may_repeat(std::size_t count, const TextOf& text_of) {
  std::vector<std::size_t> hashes(count);
  for (std::size_t i = 0; i < count; ++i) hashes[i] = std::hash<std::string>()(text_of(i));
  std::ranges::sort(hashes);
  return std::ranges::adjacent_find(hashes) != hashes.end();
}

}  // namespace

Input InputList::operator[](std::size_t place) const {
  const auto problem = problems_.find(place);
  return {path(place), picture_name(place), problem == problems_.end() ? "" : problem->second};
}

std::string InputList::picture_name(std::size_t place) const {
  const auto other = picture_names_.find(place);
  return other == picture_names_.end() ? plain_picture_name(path(place)) : other->second;
}

std::vector<Input> InputList::all() const {
  std::vector<Input> list;
  for (std::size_t i = 0; i < size(); ++i) list.push_back((*this)[i]);
  return list;
}

void InputList::add(const std::string& path, const std::string& problem) {
  if (!problem.empty()) problems_[size()] = problem;
  paths_.add(path);
}

void InputList::add_images_of(const std::string& argument, bool recursive) {
  if (is_missing(argument)) return add(argument, argument + ": " + images::kNoSuchFile);
  if (!is_folder(argument)) return add(argument, "");
  auto listed = images::list_images(argument, recursive);
  if (!listed) return add(argument, listed.error().message);
  if (paths_.empty()) {
    paths_ = std::move(*listed);
    return;
  }
  for (std::size_t i = 0; i < listed->size(); ++i) paths_.add((*listed)[i]);
}

InputList InputList::without_repeats() const {
  InputList list;
  std::set<std::string> known;
  for (std::size_t i = 0; i < size(); ++i) {
    const Input input = (*this)[i];
    if (known.insert(identity(input.path)).second)
      list.add(input.path, input.problem);
    else
      list.repeated_.push_back(input.path);
  }
  return list;
}

void InputList::name_pictures() {
  PictureNames names;
  for (std::size_t i = 0; i < size(); ++i) {
    std::string name = names.name_for(path(i));
    if (name != plain_picture_name(path(i))) picture_names_[i] = std::move(name);
  }
}

InputList list_inputs(const std::vector<std::string>& arguments, bool recursive) {
  InputList list;
  for (const std::string& argument : arguments) list.add_images_of(argument, recursive);
  // A folder alone has no image twice.
  if (arguments.size() > 1 && may_repeat(list.size(), [&](std::size_t i) { return identity(list.path(i)); }))
    list = list.without_repeats();
  if (may_repeat(list.size(), [&](std::size_t i) { return plain_picture_name(list.path(i)); })) list.name_pictures();
  return list;
}

}  // namespace gradus
