// The program `micrograph`: writes rendered pictures, each with its truth beside it.
#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "micrograph/classes.h"
#include "micrograph/eyepiece.h"
#include "micrograph/files.h"
#include "micrograph/render.h"
#include "micrograph/specimen.h"

namespace {

using namespace micrograph;

struct Wish {
  std::string scene_class, no_scale, specimen, eyepiece, scene_file, out;
  std::uint64_t seed = 1;
  int count = 1;
  std::string format = "png";
  bool list = false;
  bool scene_too = false;
};

std::string read_file(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  if (!in) throw std::runtime_error(path + ": cannot be read; give the path of a scene in JSON");
  return text.str();
}

FileFormat format_named(const std::string& name) {
  return name == "png" ? FileFormat::png : name == "jpg" ? FileFormat::jpg : FileFormat::tiff;
}

/// The picture as it goes into the file: a .jpg is compressed once, by the writer.
void write_picture(Scene scene, const std::string& stem, const Wish& wish) {
  const FileFormat format = format_named(wish.format);
  const int quality = scene.sensor.jpeg_quality > 0 ? scene.sensor.jpeg_quality : 95;
  if (format == FileFormat::jpg) {
    if (scene.sensor.bits != 8) throw std::runtime_error(stem + ": a JPEG holds 8 bits only; use --format png or tiff");
    scene.sensor.jpeg_quality = 0;
  }
  const Image image = render(scene);
  if (format == FileFormat::jpg) scene.sensor.jpeg_quality = quality;
  write_image(image, stem + "." + wish.format, format, quality);
  write_text(truth_json(truth_of(scene)), stem + ".json");
  if (wish.scene_too) write_text(scene_json(scene), stem + ".scene.json");
}

Scene wished_scene(const Wish& wish, std::uint64_t seed) {
  if (!wish.scene_class.empty()) {
    const auto scene_class = scene_class_named(wish.scene_class);
    if (!scene_class) throw std::runtime_error("--class: no class \"" + wish.scene_class + "\"; see micrograph --list");
    return random_scene(*scene_class, seed);
  }
  if (!wish.specimen.empty()) {
    const auto specimen = specimen_class_named(wish.specimen);
    if (!specimen) throw std::runtime_error("--specimen: no class \"" + wish.specimen + "\"; see micrograph --list");
    return random_specimen(*specimen, seed);
  }
  if (!wish.eyepiece.empty()) {
    const auto eyepiece = eyepiece_class_named(wish.eyepiece);
    if (!eyepiece) throw std::runtime_error("--eyepiece: no class \"" + wish.eyepiece + "\"; see micrograph --list");
    return random_eyepiece(*eyepiece, seed);
  }
  const auto kind = no_scale_named(wish.no_scale);
  if (!kind) throw std::runtime_error("--no-scale: no kind \"" + wish.no_scale + "\"; see micrograph --list");
  return random_no_scale(*kind, seed);
}

void list_classes() {
  std::cout << "Classes of scenes with a scale (--class):\n";
  for (const SceneClass scene_class : all_scene_classes()) std::cout << "  " << name_of(scene_class) << "\n";
  std::cout << "Kinds of pictures without a scale (--no-scale):\n";
  for (const NoScale kind : all_no_scale()) std::cout << "  " << name_of(kind) << "\n";
  std::cout << "Classes of specimens with measured bodies (--specimen):\n";
  for (const SpecimenClass specimen : all_specimen_classes()) std::cout << "  " << name_of(specimen) << "\n";
  std::cout << "Classes of pictures through an eyepiece, a micrometer and a reticle (--eyepiece):\n";
  for (const EyepieceClass eyepiece : all_eyepiece_classes()) std::cout << "  " << name_of(eyepiece) << "\n";
}

void run(const Wish& wish) {
  if (wish.list) return list_classes();
  if (wish.out.empty()) throw std::runtime_error("--out is missing; name the folder to write to");
  std::filesystem::create_directories(wish.out);
  if (!wish.scene_file.empty()) {
    Scene scene;
    try {
      scene = scene_from_json(read_file(wish.scene_file));
    } catch (const std::invalid_argument& error) {
      throw std::runtime_error(wish.scene_file + ": " + error.what() + "; see tools/micrograph/README.md");
    }
    return write_picture(scene, wish.out + "/" + std::filesystem::path(wish.scene_file).stem().string() + "_picture",
                         wish);
  }
  for (int i = 0; i < wish.count; ++i) {
    const Scene scene = wished_scene(wish, wish.seed + static_cast<std::uint64_t>(i));
    write_picture(scene, wish.out + "/" + scene.name + "_" + std::to_string(scene.seed), wish);
  }
}

}  // namespace

int main(int argc, char** argv) {
  Wish wish;
  CLI::App app("Renders micrographs of line scales with known truth.");
  auto* what = app.add_option_group("what", "What to render");
  what->add_option("--class", wish.scene_class, "class of scene with a scale");
  what->add_option("--no-scale", wish.no_scale, "kind of picture without a scale");
  what->add_option("--specimen", wish.specimen, "class of specimen with fibres or grains");
  what->add_option("--eyepiece", wish.eyepiece, "class of picture through an eyepiece with two scales");
  what->add_option("--scene", wish.scene_file, "scene in JSON")->check(CLI::ExistingFile);
  what->add_flag("--list", wish.list, "list classes and kinds");
  what->require_option(1);
  app.add_option("--seed", wish.seed, "first seed");
  app.add_option("--count", wish.count, "pictures, each with the next seed")->check(CLI::Range(1, 1000000));
  app.add_option("--out", wish.out, "folder to write to; made when missing");
  app.add_option("--format", wish.format, "png, jpg or tiff")->check(CLI::IsMember({"png", "jpg", "tiff"}));
  app.add_flag("--write-scene", wish.scene_too, "also write each scene in JSON");
  try {
    app.parse(argc, argv);
    run(wish);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : 2;
  } catch (const std::exception& error) {
    std::cerr << "micrograph: " << error.what() << "\n";
    return 2;
  }
  return 0;
}
