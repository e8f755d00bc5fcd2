// The pictures of --pictures: there, whole, one an image, none lost to another's name.
#include "pictures.h"

#include <filesystem>
#include <set>

#include "documents.h"
#include "scenes.h"

namespace cli_test {
namespace {

namespace fs = std::filesystem;

std::set<std::string> names_in(const fs::path& folder) {
  std::set<std::string> names;
  for (const auto& entry : fs::directory_iterator(folder)) names.insert(entry.path().filename());
  return names;
}

unsigned big_endian(const std::string& bytes, std::size_t at) {
  unsigned value = 0;
  for (std::size_t i = 0; i < 4; ++i) value = value << 8U | static_cast<unsigned char>(bytes.at(at + i));
  return value;
}

// PNG, third edition: eight bytes of signature, IHDR with width and height, IEND at the end.
void check_whole_png(const fs::path& path) {
  const std::string bytes = read_file(path);
  REQUIRE(bytes.size() > 100);
  CHECK(bytes.substr(0, 8) == "\x89PNG\r\n\x1A\n");
  CHECK(bytes.substr(bytes.size() - 8, 4) == "IEND");
  CHECK(big_endian(bytes, 16) <= 1600U);
}

TEST_CASE("calibrated and refused images get a picture, unreadable ones none") {
  const TemporaryFolder folder;
  write_file(folder / "a/x.bmp", ruling_bmp());
  write_file(folder / "b/x.bmp", ruling_bmp());
  write_file(folder / "b/x.png", blank_bmp());
  write_file(folder / "b/y.png", "broken");
  Ruling wide;
  wide.width = 2600;
  write_file(folder / "wide.bmp", ruling_bmp(wide));
  const Finished run = gradus({"calibrate", "a", "b", "wide.bmp", "--division", "10um", "--pictures", "out/seen"},
                              {folder.path(), false, ""});
  CHECK(run.exit_code == 1);
  CHECK(names_in(folder / "out/seen") ==
        std::set<std::string>{"a_x.bmp.png", "b_x.bmp.png", "b_x.png.png", "wide.bmp.png"});
  for (const std::string& name : names_in(folder / "out/seen")) check_whole_png(folder / ("out/seen/" + name));
}

TEST_CASE("names of pictures never meet") {
  gradus::PictureNames names;
  CHECK(names.name_for("a/x.png") == "a_x.png.png");
  CHECK(names.name_for("b/x.png") == "b_x.png.png");
  CHECK(names.name_for("a/x.jpg") == "a_x.jpg.png");
  CHECK(names.name_for("a_x.png") == "a_x.png-2.png");
  CHECK(names.name_for("/a/x.png") == "a_x.png-3.png");
  CHECK(names.name_for("../a/x.png") == "up_a_x.png.png");
  const std::string deep = std::string(300, 'd') + "/x.png";
  CHECK(names.name_for(deep).size() <= 255);
  CHECK(names.name_for(deep + "g").size() <= 255);
}

TEST_CASE("a picture of every kind of reading can be drawn") {
  std::vector<unsigned char> pixels(64 * 48, 128);
  const scale::ImageView image{pixels.data(), 64, 48, 64, scale::SampleType::u8, 255.0};
  scale::Reading refused;
  refused.failure = scale::Failure{"period", "no-ruling", std::string(400, 'w') + " µ ° \xFF"};
  refused.directions_tried_deg = {-89.0, 45.0};
  refused.lines_seen.push_back({-10, -10, 100, 100, "off-lattice"});
  CHECK_FALSE(gradus::draw_picture({"name", image, {0, 0, 64, 48}, &refused, nullptr}).empty());

  scale::Reading crossed;
  for (const double angle : {0.0, scale::kPi / 2}) {
    scale::Ruling ruling;
    ruling.direction = {angle};
    ruling.pitch_px = 10.0;
    for (int i = 0; i < 4; ++i) ruling.graduations.push_back({i, 10.0 * i, 0.0, 0.0, 10.0 * i, 0, 10.0 * i, 47});
    ruling.graduations[2].used = false;
    ruling.nonlinearity = {0.0, 0.1, 0.0, 0.2};
    ruling.rejected.push_back({5, 0, 5, 47, "off-lattice"});
    crossed.rulings.push_back(ruling);
  }
  const scale::Calibration calibration = scale::calibrate(crossed, {{10.0}, {}});
  CHECK_FALSE(gradus::draw_picture({"name", image, {8, 8, 32, 32}, &crossed, &calibration}).empty());
}

}  // namespace
}  // namespace cli_test
