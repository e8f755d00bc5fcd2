#include "images/ome_facts.h"

#include <cmath>
#include <pugixml.hpp>

namespace images {
namespace {

// Namespaces may be spelt with a prefix ("ome:Image").
bool is_named(const pugi::xml_node& node, const std::string& name) {
  const std::string own = node.name();
  return own == name || own.ends_with(":" + name);
}

pugi::xml_node first_named(const pugi::xml_node& root, const std::string& name) {
  return root.find_node([&](const pugi::xml_node& node) { return is_named(node, name); });
}

bool is_size(double value) { return std::isfinite(value) && value > 0.0; }

// The objective that the image names; the only one when it names none.
pugi::xml_node objective_of(const pugi::xml_node& root, const pugi::xml_node& image) {
  const std::string id = first_named(image, "ObjectiveSettings").attribute("ID").as_string();
  if (id.empty()) {
    int count = 0;
    pugi::xml_node only;
    root.find_node([&](const pugi::xml_node& node) {
      if (!is_named(node, "Objective")) return false;
      only = node;
      return ++count > 1;
    });
    return count == 1 ? only : pugi::xml_node();
  }
  return root.find_node([&](const pugi::xml_node& node) {
    return is_named(node, "Objective") && id == node.attribute("ID").as_string();
  });
}

}  // namespace

void read_ome(const std::string& description, FileFacts& facts) {
  if (description.find("OME") == std::string::npos || description.find('<') == std::string::npos) return;
  pugi::xml_document document;
  if (!document.load_buffer(description.data(), description.size())) return;
  const pugi::xml_node image = first_named(document, "Image");
  const pugi::xml_node pixels = first_named(image, "Pixels");
  const double x = pixels.attribute("PhysicalSizeX").as_double(), y = pixels.attribute("PhysicalSizeY").as_double();
  const std::string unit = pixels.attribute("PhysicalSizeXUnit").as_string("µm");
  // Two units for one picture are not worth guessing about.
  if (is_size(x) && is_size(y) && unit == pixels.attribute("PhysicalSizeYUnit").as_string("µm"))
    facts.pixel_size = PixelSize{x, y, unit};
  const double magnification = objective_of(document, image).attribute("NominalMagnification").as_double();
  if (is_size(magnification)) facts.magnification = magnification;
  facts.binning = first_named(image, "DetectorSettings").attribute("Binning").as_string();
}

}  // namespace images
