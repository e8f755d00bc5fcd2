// Files that appear whole or not at all, and the listing of folders.
#include <doctest/doctest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <stdexcept>

#include "images/list_images.h"
#include "images/output_file.h"
#include "images/write_png.h"
#include "support/picture_checks.h"
#include "support/picture_files.h"

using namespace picture_checks;
using namespace picture_files;
namespace fs = std::filesystem;

namespace {

std::size_t entries(const TempFolder& folder) {
  return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder.folder()), fs::directory_iterator()));
}

template <class Check>
bool holds_in_child(const Check& check) {
  const pid_t child = fork();
  if (child == 0) _exit(check() ? 0 : 1);
  int status = -1;
  waitpid(child, &status, 0);
  return status == 0;
}

// Without the rights of an administrator, for whom no folder is closed.
template <class Check>
bool holds_for_nobody(const Check& check) {
  return holds_in_child([&] { return (geteuid() != 0 || seteuid(65534) == 0) && check(); });
}

}  // namespace

TEST_CASE("an output file has its name only once it is committed, and goes without a trace otherwise") {
  const TempFolder folder;
  const std::string path = folder.path("a.json");
  {
    auto file = images::OutputFile::create(path);
    REQUIRE(file);
    REQUIRE(file->write("half"));
    CHECK(!fs::exists(path));
  }
  CHECK(entries(folder) == 0);
  auto file = images::OutputFile::create(path);
  REQUIRE(file);
  REQUIRE(file->write("the "));
  REQUIRE(file->write("whole"));
  REQUIRE(file->commit());
  CHECK(read_bytes(path) == "the whole");
  CHECK(entries(folder) == 1);
}

TEST_CASE("what stood there before stays until the commit and keeps its rights") {
  const TempFolder folder;
  const std::string path = folder.path("a.csv");
  write_bytes(path, "old");
  chmod(path.c_str(), 0640);
  {
    auto file = images::OutputFile::create(path);
    REQUIRE(file->write("new"));
  }
  CHECK(read_bytes(path) == "old");
  REQUIRE(images::write_whole(path, "new"));
  CHECK(read_bytes(path) == "new");
  CHECK((fs::status(path).permissions() == static_cast<fs::perms>(0640)));
}

TEST_CASE("writing through a link replaces what it points to") {
  const TempFolder folder;
  fs::create_directory(folder.path("elsewhere"));
  write_bytes(folder.path("elsewhere/a"), "old");
  fs::create_symlink("elsewhere/a", folder.path("link"));
  fs::create_symlink("elsewhere/b", folder.path("dangling"));
  REQUIRE(images::write_whole(folder.path("link"), "new"));
  REQUIRE(images::write_whole(folder.path("dangling"), "born"));
  CHECK(fs::is_symlink(folder.path("link")));
  CHECK(read_bytes(folder.path("elsewhere/a")) == "new");
  CHECK(read_bytes(folder.path("elsewhere/b")) == "born");
}

TEST_CASE("a place that cannot be written to is named with the reason and the next step") {
  const TempFolder folder;
  const auto message = [](const std::string& path) {
    const auto written = images::write_whole(path, "x");
    return written ? std::string() : written.error().message;
  };
  const std::string missing = folder.path("no/such/a.json");
  CHECK(message(missing) == missing + ": cannot be written, No such file or directory; make its folder first");
  CHECK(message(folder.folder()).find("it is a folder") != std::string::npos);
  CHECK(message(folder.path("a/")).find("it names a folder") != std::string::npos);
  CHECK(message("/dev/null").find("device") != std::string::npos);
  chmod(folder.folder().c_str(), 0555);
  CHECK(holds_for_nobody([&] { return message(folder.path("a")).find("rights of its folder") != std::string::npos; }));
  chmod(folder.folder().c_str(), 0755);
}

TEST_CASE("a full disk leaves the old file and no new one") {
  const TempFolder folder;
  const std::string path = folder.path("a.png");
  write_bytes(path, "old");
  // A limit on the size of files stands for the full disk; the signal that comes with it must be ignored.
  const bool held = holds_in_child([&] {
    signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{50'000, 50'000};
    setrlimit(RLIMIT_FSIZE, &limit);
    const auto written = images::write_whole(path, std::string(100'000, 'x'));
    const Shape shape = patterned(400, 400, 1, 255);
    const std::vector<std::uint8_t> samples(shape.samples.begin(), shape.samples.end());
    const auto drawn = images::write_png(path, {samples.data(), 400, 400, 400, scale::SampleType::u8, 255.0});
    return !written && !drawn && drawn.error().message.find("File too large") != std::string::npos;
  });
  CHECK(held);
  CHECK(read_bytes(path) == "old");
  CHECK(entries(folder) == 1);
}

TEST_CASE("PNG files written grey in 8 and 16 bits and in colours read back the same") {
  const TempFolder folder;
  const std::string path = folder.path("a.png");
  const Shape grey = patterned(37, 23, 1, 65535);
  std::vector<std::uint16_t> deep(grey.samples.begin(), grey.samples.end());
  REQUIRE(images::write_png(path, {deep.data(), 37, 23, 74, scale::SampleType::u16, 65535.0}));
  CHECK(worst_difference(read(path), grey.samples) == 0.0);

  const Shape colour = patterned(37, 23, 3, 255);
  std::vector<std::uint8_t> bytes(colour.samples.begin(), colour.samples.end());
  REQUIRE(images::write_png(path, images::ColourView{bytes.data(), 37, 23, 111}));
  CHECK(worst_difference(read(path, images::Channel::red), channel_of(colour.samples, 3, 0)) == 0.0);
  REQUIRE(images::write_png(path, images::ColourView{bytes.data(), 37, 23, 111, true}));
  CHECK(worst_difference(read(path, images::Channel::blue), channel_of(colour.samples, 3, 0)) == 0.0);

  // The left part of every row of a wider buffer.
  REQUIRE(images::write_png(path, {bytes.data(), 20, 23, 111, scale::SampleType::u8, 255.0}));
  const images::Picture part = read(path);
  CHECK(sample_at(part, 20) == colour.samples[111]);
}

TEST_CASE("an empty or a float picture is the caller's mistake") {
  const TempFolder folder;
  const float sample = 1.0F;
  const scale::ImageView floating{&sample, 1, 1, 4, scale::SampleType::f32, 1.0};
  CHECK_THROWS_AS(static_cast<void>(images::write_png(folder.path("a"), floating)), std::invalid_argument);
  CHECK_THROWS_AS(static_cast<void>(images::write_png(folder.path("a"), scale::ImageView{})), std::invalid_argument);
  CHECK(entries(folder) == 0);
}

TEST_CASE("a folder lists its pictures in bytewise order, without hidden files, deeper only when asked") {
  const TempFolder folder;
  fs::create_directories(folder.path("b"));
  fs::create_directories(folder.path(".hidden"));
  for (const char* name : {"z.PNG", "a.tif", "a.JPEG", "B.bmp", "notes.txt", "png", ".c.png", "b/1.jpg", "b/x.TIFF",
                           ".hidden/d.png", "b.png"}) {
    write_bytes(folder.path(name), "x");
  }
  fs::create_directory_symlink(".", folder.path("loop"));
  const auto names = [&](bool recursive) {
    std::string all;
    const auto listed = images::list_images(folder.folder(), recursive);
    REQUIRE(listed);
    for (std::size_t i = 0; i < listed->size(); ++i)
      all.append((*listed)[i].substr(folder.folder().size() + 1)).append(" ");
    return all;
  };
  CHECK(names(false) == "B.bmp a.JPEG a.tif b.png z.PNG ");
  CHECK(names(true) == "B.bmp a.JPEG a.tif b.png b/1.jpg b/x.TIFF z.PNG ");
  const auto with_slash = images::list_images(folder.folder() + "/", false);
  CHECK((*with_slash)[0] == folder.path("B.bmp"));
}

TEST_CASE("a folder that is missing, closed or without pictures is named") {
  const TempFolder folder;
  const auto code = [](const std::string& path) {
    const auto listed = images::list_images(path, true);
    return listed ? std::string() : listed.error().code;
  };
  CHECK(code(folder.path("none")) == "missing");
  CHECK(code(folder.folder()) == "no-images");
  write_bytes(folder.path("a.png"), "x");
  CHECK(code(folder.path("a.png")) == "unreadable");
  fs::create_directory(folder.path("closed"));
  chmod(folder.folder().c_str(), 0755);
  chmod(folder.path("closed").c_str(), 0);
  CHECK(holds_for_nobody([&] { return code(folder.folder()) == "unreadable"; }));
}
