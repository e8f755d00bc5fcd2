// Files cut and flipped at many places: an error or a picture, never a crash, never a word on the terminal.
#include <doctest/doctest.h>
#include <fcntl.h>
#include <malloc.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <tiffio.h>
#include <unistd.h>

#include <cstdio>
#include <thread>

#include "support/picture_checks.h"
#include "support/picture_files.h"

using namespace picture_checks;
using namespace picture_files;

namespace {

// Sends standard output and standard error to a file while it lives.
class Silence {
 public:
  explicit Silence(const std::string& path) : old_out_(dup(1)), old_error_(dup(2)) {
    std::fflush(nullptr);
    const int file = open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    dup2(file, 1);
    dup2(file, 2);
    close(file);
  }
  Silence(const Silence&) = delete;
  Silence& operator=(const Silence&) = delete;
  ~Silence() {
    std::fflush(nullptr);
    dup2(old_out_, 1);
    dup2(old_error_, 2);
    close(old_out_);
    close(old_error_);
  }

 private:
  int old_out_, old_error_;
};

// One file of every kind, small.
std::vector<std::string> every_kind(const TempFolder& folder) {
  std::vector<std::string> paths;
  const auto next = [&] { return paths.emplace_back(folder.path("kind-" + std::to_string(paths.size()))); };
  write_png_file(next(), patterned(31, 29, 1, 255));
  write_png_file(next(), patterned(31, 29, 4, 65535),
                 {.bits = 16, .interlaced = true, .exif = exif_block(3, "a", "b")});
  write_png_file(next(), patterned(31, 29, 1, 3),
                 {.bits = 2, .palette = true, .colours = {{1, 2, 3}, {4, 5, 6}, {7, 8, 9}, {0, 0, 0}}});
  write_jpeg_file(next(), patterned(31, 29, 1, 255), {.exif = exif_block(3, "a", "b")});
  write_jpeg_file(next(), patterned(31, 29, 3, 255), {.quality = 80, .progressive = true, .subsampled = true});
  write_jpeg_file(next(), patterned(31, 29, 3, 255), {.quality = 80, .arithmetic = true});
  for (const int compression :
       {COMPRESSION_NONE, COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS, COMPRESSION_JPEG}) {
    // A cut through what only a later page needs leaves the first one whole; JPEG tables lie behind the last page.
    const int pages = compression == COMPRESSION_JPEG ? 1 : 2;
    write_tiff_file(next(), patterned(31, 29, 1, 255),
                    {.compression = compression, .rows_per_strip = 8, .pages = pages});
  }
  write_tiff_file(next(), patterned(31, 29, 1, 1), {.bits = 1, .photometric = 0, .compression = COMPRESSION_CCITTFAX4});
  write_tiff_file(next(), patterned(31, 29, 1, 4095), {.bits = 12, .rows_per_strip = 8, .mode = "w8"});
  write_tiff_file(next(), patterned(31, 29, 3, 65535),
                  {.bits = 16, .separate = true, .tile_width = 16, .tile_height = 16});
  write_tiff_file(next(), patterned(31, 29, 3, 255),
                  {.photometric = PHOTOMETRIC_YCBCR, .compression = COMPRESSION_JPEG, .rows_per_strip = 16});
  write_tiff_file(next(), patterned(31, 29, 3, 255), {.photometric = PHOTOMETRIC_YCBCR, .rows_per_strip = 8});
  write_tiff_file(next(), patterned(31, 29, 1, 255), {.bits = 32, .sample_format = SAMPLEFORMAT_IEEEFP});
  const std::vector<int> map(16, 4000);
  write_tiff_file(next(), patterned(31, 29, 1, 15),
                  {.bits = 4, .photometric = PHOTOMETRIC_PALETTE, .colour_map = {map, map, map}});
  write_bmp_file(next(), patterned(31, 29, 3, 255), {});
  write_bmp_file(next(), patterned(31, 29, 1, 1), {.bits = 1, .colours = {{0, 0, 0}, {255, 255, 255}}});
  write_bmp_file(next(), patterned(31, 29, 4, 255), {.bits = 32, .alpha_mask = true});
  return paths;
}

// A picture or an error of one line that names the file.
bool sound(const std::string& path, images::Channel channel) {
  images::ReadOptions options;
  options.channel = channel;
  const auto picture = images::read_image(path, options);
  if (picture) return picture->width > 0 && picture->samples.size() > 0;
  const std::string& message = picture.error().message;
  return message.starts_with(path + ": ") && message.find('\n') == std::string::npos && !picture.error().code.empty();
}

}  // namespace

TEST_CASE("every file cut at every 97th byte is an error, and nothing is printed") {
  const TempFolder folder;
  const auto paths = every_kind(folder);
  const std::string cut = folder.path("cut");
  std::string wrong;
  {
    const Silence silence(folder.path("printed"));
    for (const std::string& path : paths) {
      const std::string bytes = read_bytes(path);
      if (!sound(path, images::Channel::luminance) || !error_code(path).empty()) wrong += path + " whole\n";
      for (std::size_t length = 0; length < bytes.size(); length += 97) {
        write_bytes(cut, bytes.substr(0, length));
        const bool refused = sound(cut, images::Channel::green) && !error_code(cut).empty();
        if (!refused) wrong += path + " at " + std::to_string(length) + "\n";
      }
    }
  }
  CHECK(wrong == "");
  CHECK(read_bytes(folder.path("printed")) == "");
}

TEST_CASE("every file with flipped bytes is a picture or an error, and nothing is printed") {
  const TempFolder folder;
  const auto paths = every_kind(folder);
  const std::string flipped = folder.path("flipped");
  std::string wrong;
  {
    const Silence silence(folder.path("printed"));
    for (const std::string& path : paths) {
      std::string bytes = read_bytes(path);
      // Headers are damaged in every byte and three ways, the pixels behind them here and there.
      for (std::size_t i = 0; i < bytes.size(); i += i < 200 ? 1 : 23) {
        for (const int mask : {0x01, 0x80, 0xFF}) {
          const char old = bytes[i];
          bytes[i] = static_cast<char>(old ^ mask);
          write_bytes(flipped, bytes);
          const auto channel = i % 2 == 0 ? images::Channel::luminance : images::Channel::red;
          if (!sound(flipped, channel)) wrong += path + " at " + std::to_string(i) + "\n";
          bytes[i] = old;
        }
      }
    }
  }
  CHECK(wrong == "");
  CHECK(read_bytes(folder.path("printed")) == "");
}

TEST_CASE("eight threads reading different files at once get what one thread gets") {
  const TempFolder folder;
  const auto paths = every_kind(folder);
  const auto summary = [](const std::string& path) {
    const auto picture = images::read_image(path);
    if (!picture) return picture.error().message;
    const char* bytes = reinterpret_cast<const char*>(picture->samples.data());
    return std::string(bytes, picture->samples.size()) + warning_codes(*picture);
  };
  const std::string cut = folder.path("cut");  // errors travel through the same handlers
  write_bytes(cut, read_bytes(paths[7]).substr(0, 300));
  std::vector<std::string> alone;
  for (const auto& path : paths) alone.push_back(summary(path));
  const std::string cut_alone = summary(cut);
  std::vector<int> differences(8, 0);
  std::vector<std::thread> threads;
  for (std::size_t t = 0; t < 8; ++t) {
    threads.emplace_back([&, t] {
      for (std::size_t i = 0; i < 20 * paths.size(); ++i) {
        const std::size_t which = (i + 3 * t) % paths.size();
        if (summary(paths[which]) != alone[which] || summary(cut) != cut_alone) ++differences[t];
      }
    });
  }
  for (auto& thread : threads) thread.join();
  CHECK(differences == std::vector<int>(8, 0));
}

#ifndef __SANITIZE_ADDRESS__  // its own memory would be counted
namespace {

// Growth of the largest resident memory of a process of its own that reads the file, in bytes a pixel.
double bytes_per_pixel(const std::string& path) {
  int ends[2];
  REQUIRE(pipe(ends) == 0);
  const pid_t child = fork();
  if (child == 0) {
    malloc_trim(0);  // what the parent has freed would serve again, and not be seen
    mallopt(M_MMAP_THRESHOLD, 64 * 1024);
    rusage before{};
    rusage after{};
    // The child inherits the mark of its parent: the growth of its own memory is what counts.
    std::FILE* reset = std::fopen("/proc/self/clear_refs", "w");
    const bool done = reset != nullptr && std::fputs("5", reset) >= 0 && std::fclose(reset) == 0;
    getrusage(RUSAGE_SELF, &before);
    const auto picture = images::read_image(path);
    getrusage(RUSAGE_SELF, &after);
    double growth = picture && done ? static_cast<double>(after.ru_maxrss - before.ru_maxrss) * 1024.0 /
                                          (static_cast<double>(picture->width) * picture->height)
                                    : -1.0;
    const bool sent = write(ends[1], &growth, sizeof growth) == sizeof growth;
    _exit(sent ? 0 : 1);
  }
  double growth = -1.0;
  REQUIRE(::read(ends[0], &growth, sizeof growth) == sizeof growth);
  close(ends[0]);
  close(ends[1]);
  waitpid(child, nullptr, 0);
  return growth;
}

}  // namespace

TEST_CASE("reading a large colour picture takes about one byte a pixel") {
  const TempFolder folder;
  const std::string path = folder.path("a");
  const Shape shape{3000, 4000, 3, square_pattern(3000, 4000, 3)};
  // The samples are 1 byte a pixel; 8 MB more are a decoder's tables and rows.
  constexpr double kMost = 1.0 + 8e6 / 12e6;
  constexpr double kLeast = 0.9;  // a measurement that sees nothing would pass any upper bound
  const auto check = [&](const std::string& kind) {
    CAPTURE(kind);
    const double growth = bytes_per_pixel(path);
    CHECK(growth <= kMost);
    CHECK(growth >= kLeast);
  };
  write_png_file(path, shape);
  check("PNG");
  write_png_file(path, shape, {.interlaced = true});
  check("interlaced PNG");
  write_jpeg_file(path, shape);
  check("JPEG");
  write_bmp_file(path, shape, {});
  check("BMP");
  write_tiff_file(path, shape);
  check("TIFF of one strip");
  write_tiff_file(path, shape, {.compression = COMPRESSION_LZW, .separate = true, .rows_per_strip = 16});
  check("TIFF in planes");
  write_tiff_file(path, shape, {.tile_width = 256, .tile_height = 256});
  check("TIFF in tiles");
}
#endif
