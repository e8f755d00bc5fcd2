#include "drift/folders.h"

#include <micrograph/random.h>
#include <micrograph/render.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "cli/process.h"
#include "support/picture_files.h"

namespace drift_test {
namespace {

namespace fs = std::filesystem;
using micrograph::Random;

struct Setup {
  const char* name;
  double magnification,
      factor;  // micrometres per pixel, off the nominal 3.45 um / (0.5 magnification) as objectives are
  int width, height;
};

constexpr std::array<Setup, 4> kSetups{{{"4x", 4, 1.7474, 640, 400},
                                        {"10x", 10, 0.68407, 640, 400},
                                        {"20x", 20, 0.3480, 704, 440},
                                        {"40x", 40, 0.17065, 640, 400}}};

double nominal(const Setup& setup) { return 3.45 / (0.5 * setup.magnification); }

std::string lab_of(bool shots_by_name) {
  std::string text =
      "schema = 1\n[room]\ntemperature = { value = \"21 degC\", limits = \"2 degC\" }\n[[scale]]\nname = \"SM-A\"\n"
      "division = \"10um\"\ndivisions = 100\nexpanded_uncertainty = \"0.15um\"\n";
  for (const Setup& setup : kSetups) {
    const std::string name = setup.name;
    text.append("[[setup]]\nname = \"").append(name).append("\"\nscale = \"SM-A\"\nimages = [\"").append(name);
    text.append("/*\"]\nrefocused = true\npixel_pitch = \"3.45um\"\nrelay = 0.5\nobjective = { magnification = ");
    text.append(std::to_string(static_cast<int>(setup.magnification))).append(", aperture = 0.25 }\n");
    if (shots_by_name) text.append("check_images = [\"").append(name).append("/shot-*\"]\n");
  }
  return text;
}

picture_files::Shape shape_of(const micrograph::Image& image) {
  picture_files::Shape shape{image.width, image.height, 1, {}};
  for (const std::uint8_t sample : micrograph::grey8(image)) shape.samples.push_back(sample);
  return shape;
}

picture_files::Shape scale_shot(const Setup& setup, Random& random) {
  micrograph::Scene scene;
  scene.width = setup.width, scene.height = setup.height, scene.seed = random.bits();
  const double px = 1.0 / (setup.factor * (1.0 + 1e-5 * random.normal()));
  micrograph::LineScale scale;
  scale.angle_deg = random.uniform(-2.0, 2.0);
  scale.pitch_px = 10.0 * px, scale.count = 101, scale.line_width_px = std::max(1.5, 2.5 * px);
  scale.short_px = 60.0, scale.medium_px = 90.0, scale.long_px = 120.0;
  const double turn = scale.angle_deg * std::acos(-1.0) / 180.0, along = 500.0 * px;
  scale.origin_x = 0.5 * scene.width - along * std::cos(turn);
  scale.origin_y = 0.5 * scene.height - along * std::sin(turn) - 40.0;
  scene.scales = {scale};
  scene.optics.gaussian_px = random.uniform(0.8, 1.3);
  scene.sensor.full_well = 9000.0, scene.sensor.read_noise = 0.8;
  return shape_of(micrograph::render(scene));
}

picture_files::Shape specimen(const Setup& setup, Random& random) {
  constexpr micrograph::NoScale kKinds[] = {micrograph::NoScale::fibres, micrograph::NoScale::grains,
                                            micrograph::NoScale::discs,  micrograph::NoScale::voronoi,
                                            micrograph::NoScale::cloth,  micrograph::NoScale::tiles};
  micrograph::Scene scene;
  scene.width = setup.width, scene.height = setup.height, scene.seed = random.bits();
  scene.no_scale = kKinds[random.integer(0, 5)];
  scene.regular = random.chance(0.5);  // tiles and cloth without a thread out of place
  scene.optics.gaussian_px = random.uniform(0.8, 1.6);
  scene.sensor.full_well = 9000.0, scene.sensor.read_noise = 0.8;
  return shape_of(micrograph::render(scene));
}

picture_files::Shape cropped(const picture_files::Shape& from, int width, int height) {
  picture_files::Shape part{width, height, 1, {}};
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x)
      part.samples.push_back(from.samples[static_cast<std::size_t>(y + 11) * from.width + x + 17]);
  return part;
}

// The mean of four, as binning and most exports do.
picture_files::Shape halved(const picture_files::Shape& from) {
  picture_files::Shape half{from.width / 2, from.height / 2, 1, {}};
  const auto at = [&](int x, int y) { return from.samples[static_cast<std::size_t>(y) * from.width + x]; };
  for (int y = 0; y < half.height; ++y)
    for (int x = 0; x < half.width; ++x)
      half.samples.push_back(std::round(
          0.25 * (at(2 * x, 2 * y) + at(2 * x + 1, 2 * y) + at(2 * x, 2 * y + 1) + at(2 * x + 1, 2 * y + 1))));
  return half;
}

enum class Expected { good, silent, wrong };

class Folder {
 public:
  explicit Folder(std::uint64_t seed) : random_(seed, 0xf01d), shots_by_name_(seed % 2 == 0) {}
  FolderCounts run();
  double tags(int images);

 private:
  void write(const std::string& path, const picture_files::Shape& shape, int per_metre = 0) {
    fs::create_directories((folder_.path() / path).parent_path());
    picture_files::PngKind kind;
    kind.pixels_per_metre = per_metre;
    picture_files::write_png_file((folder_.path() / path).string(), shape, kind);
  }
  void add(const std::string& path, Expected expected, const picture_files::Shape& shape, int per_metre = 0) {
    write("today/" + path, shape, per_metre);
    expected_["today/" + path] = expected;
  }
  static std::string named(const Setup& setup, const std::string& kind, int number) {
    return std::string(setup.name).append("/").append(kind).append("-").append(std::to_string(number)).append(".png");
  }
  void calibrate();
  void add_good(const Setup& setup);
  void add_wrong();
  FolderCounts judged();

  Random random_;
  bool shots_by_name_;
  cli_test::TemporaryFolder folder_;
  std::map<std::string, Expected> expected_;
};

void Folder::calibrate() {
  cli_test::write_file(folder_ / "lab.toml", lab_of(shots_by_name_));
  for (const Setup& setup : kSetups)
    for (int i = 0; i < 3; ++i) write("shots/" + named(setup, "shot", i), scale_shot(setup, random_));
  const auto done = cli_test::gradus({"calibrate", "shots", "--recursive", "--lab", "lab.toml", "--record",
                                      "--operator", "A. Keeper", "--at", "2026-02-28T09:30:00Z"},
                                     {folder_.path(), false, ""});
  if (done.exit_code != 0) throw std::runtime_error("the room was not calibrated: " + done.errors);
}

// What programs write: the nominal pixel size, to a few parts in a thousand; nothing; or a resolution for printing.
void Folder::add_good(const Setup& setup) {
  constexpr int kPrinting[] = {2835, 3780, 11811};  // 72, 96 and 300 dpi, per metre
  for (int i = 0; i < 4; ++i) add(named(setup, "shot", i), Expected::good, scale_shot(setup, random_));
  for (int i = 0; i < 14; ++i) {
    const double stated = nominal(setup) * (1.0 + random_.uniform(-0.005, 0.005));
    add(named(setup, "stated", i), Expected::good, specimen(setup, random_), static_cast<int>(1e6 / stated));
  }
  for (int i = 0; i < 5; ++i)
    add(named(setup, "silent", i), Expected::silent, specimen(setup, random_), i == 0 ? 0 : kPrinting[i % 3]);
}

// One in twenty: a shot and a picture of another set-up, one of each at half size, one of each cropped.
void Folder::add_wrong() {
  const auto any = [&] { return static_cast<std::size_t>(random_.integer(0, 3)); };
  const std::size_t own = any(), other = (own + static_cast<std::size_t>(random_.integer(1, 3))) % 4;
  const Setup &to = kSetups[own], &from = kSetups[other];
  const auto per_metre = [](const Setup& setup) { return static_cast<int>(1e6 / nominal(setup)); };
  add(named(to, "shot", 90), Expected::wrong, scale_shot(from, random_));
  add(named(to, "misfiled", 91), Expected::wrong, specimen(from, random_), per_metre(from));
  const Setup& small = kSetups[any()];
  // A scale of which nothing is left at half size is no check shot.
  if (small.magnification > 4) add(named(small, "shot", 92), Expected::wrong, halved(scale_shot(small, random_)));
  add(named(small, "half", 93), Expected::wrong, halved(specimen(small, random_)), per_metre(small));
  const Setup& cut = kSetups[any()];
  add(named(cut, "shot", 94), Expected::wrong, cropped(scale_shot(cut, random_), 560, 360));
  add(named(cut, "cropped", 95), Expected::wrong, cropped(specimen(cut, random_), 500, 300), per_metre(cut));
}

FolderCounts Folder::judged() {
  const auto done = cli_test::gradus(
      {"check", "today", "--recursive", "--lab", "lab.toml", "--at", "2026-03-01T08:00:00Z", "--json", "-"},
      {folder_.path(), false, ""});
  FolderCounts counts;
  const nlohmann::json document = nlohmann::json::parse(done.output);
  if (document.at("results").size() != expected_.size()) counts.failures.emplace_back("an image has no result");
  for (const auto& result : document["results"]) {
    const std::string verdict = result.at("verdict"), image = result.at("image");
    const Expected expected = expected_.at(image);
    const bool bad = verdict == "drifted" || verdict == "mismatch";
    counts.wrong += expected == Expected::wrong;
    counts.wrong_found += expected == Expected::wrong && bad;
    counts.good += expected != Expected::wrong;
    counts.accused += expected != Expected::wrong && bad;
    counts.silent += expected == Expected::silent;
    counts.silent_unverifiable += expected == Expected::silent && verdict == "unverifiable";
    if ((expected == Expected::wrong) == bad && (expected != Expected::silent || verdict == "unverifiable")) continue;
    counts.failures.push_back(image + ": " + verdict + ", " +
                              result.at("evidence").at(0).at("message").get<std::string>());
  }
  return counts;
}

FolderCounts Folder::run() {
  calibrate();
  for (const Setup& setup : kSetups) add_good(setup);
  add_wrong();
  return judged();
}

double Folder::tags(int images) {
  calibrate();
  const picture_files::Shape picture = specimen(kSetups[1], random_);
  const int per_metre = static_cast<int>(1e6 / nominal(kSetups[1]));
  const std::string first = "today/" + named(kSetups[1], "stated", 0);
  write(first, picture, per_metre);
  for (int i = 1; i < images; ++i)
    fs::copy_file(folder_.path() / first, folder_.path() / ("today/" + named(kSetups[1], "stated", i)));
  const auto start = std::chrono::steady_clock::now();
  const auto done = cli_test::gradus({"check", "today", "--recursive", "--lab", "lab.toml", "--at",
                                      "2026-03-01T08:00:00Z", "--tags-only", "--json", "-"},
                                     {folder_.path(), false, ""});
  const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - start;
  const nlohmann::json document = nlohmann::json::parse(done.output);
  int within = 0;
  for (const auto& result : document.at("results")) within += result.at("verdict") == "within" ? 1 : 0;
  return within == images ? taken.count() : -1.0;
}

}  // namespace

double check_tags(int images) { return Folder(1).tags(images); }

FolderCounts check_folder(std::uint64_t seed) { return Folder(seed).run(); }

}  // namespace drift_test
