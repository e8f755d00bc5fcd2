// Pictures and their truth on disk; scenes as text.
#pragma once

#include <string>

#include "micrograph/image.h"
#include "micrograph/scene.h"
#include "micrograph/truth.h"

namespace micrograph {

enum class FileFormat { png, jpg, tiff };

/// Writes the picture whole or not at all. Throws std::runtime_error naming the file and the cause. A picture whose
/// scene asks for a JPEG quality keeps it in a .jpg (`jpeg_quality` 0: 95).
void write_image(const Image& image, const std::string& path, FileFormat format, int jpeg_quality);

std::string truth_json(const Truth& truth);

/// All values of the scene. scene_from_json() takes the same keys, all optional, and throws std::invalid_argument
/// on a key or value it does not know.
std::string scene_json(const Scene& scene);
Scene scene_from_json(const std::string& text);

/// Writes `text` whole or not at all.
void write_text(const std::string& text, const std::string& path);

}  // namespace micrograph
