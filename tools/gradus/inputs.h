// From what stands on the command line to the images to look at.
#pragma once

#include <images/path_list.h>

#include <map>
#include <string>
#include <vector>

#include "batch.h"

namespace gradus {

// The images of a run in order. There may be a hundred thousand of them: paths lie in one piece, and what few of them
// have is kept by place. Some 70 bytes an image.
class InputList {
 public:
  std::size_t size() const { return paths_.size(); }
  Input operator[](std::size_t place) const;
  std::string path(std::size_t place) const { return std::string(paths_[place]); }
  // File name of an image below --pictures.
  std::string picture_name(std::size_t place) const;
  std::vector<Input> all() const;
  const std::vector<std::string>& repeated() const { return repeated_; }  // paths that were named again

 private:
  friend InputList list_inputs(const std::vector<std::string>& arguments, bool recursive);
  void add(const std::string& path, const std::string& problem);
  void add_images_of(const std::string& argument, bool recursive);
  InputList without_repeats() const;
  void name_pictures();

  images::PathList paths_;
  std::map<std::size_t, std::string> problems_;       // of arguments that gave no image
  std::map<std::size_t, std::string> picture_names_;  // where another image has the plain one
  std::vector<std::string> repeated_;
};

// Files as they are, folders as the images in them, in the order given and each once. An argument that gives no
// image, as it does not exist or is a folder without any, stays in its place, with its problem.
InputList list_inputs(const std::vector<std::string>& arguments, bool recursive);

}  // namespace gradus
