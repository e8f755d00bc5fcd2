// Writes picture files of every odd kind for the tests, straight through libpng, libjpeg and libtiff, so that
// what is read back is checked against samples the test chose itself.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace picture_files {

// A folder of its own that goes with the object.
class TempFolder {
 public:
  TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  ~TempFolder();
  std::string path(const std::string& name) const { return folder_ + "/" + name; }
  const std::string& folder() const { return folder_; }

 private:
  std::string folder_;
};

std::string read_bytes(const std::string& path);
void write_bytes(const std::string& path, std::string_view bytes);

// width * height * channels samples in 0..top, interleaved, that repeat nowhere: a swapped row, column or
// channel shows. Seeded by the arguments alone.
std::vector<double> pattern(int width, int height, int channels, unsigned top);

// The same with every square of 8 x 8 pixels of one colour, which JPEG of quality 100 keeps exactly.
std::vector<double> square_pattern(int width, int height, int channels);

// An Exif block (a little-endian TIFF structure) with orientation, make, model and 72.5 pixels per inch.
std::string exif_block(int orientation, const std::string& make, const std::string& model);

struct Shape {
  int width = 0, height = 0;
  int channels = 1;
  std::vector<double> samples = {};  // interleaved
};

Shape patterned(int width, int height, int channels, unsigned top);

struct PngKind {
  int bits = 8;
  bool interlaced = false;
  bool palette = false;  // samples are indices into `colours`
  std::vector<std::vector<int>> colours = {};
  std::vector<int> palette_alpha = {};
  int transparent_grey = -1;  // tRNS of a grey picture
  int pixels_per_metre = 0;
  std::string exif = {};
};
void write_png_file(const std::string& path, const Shape& shape, const PngKind& kind = {});

struct JpegKind {
  int quality = 100;
  bool progressive = false;
  bool arithmetic = false;
  bool stored_as_rgb = false;
  bool subsampled = false;
  int dots_per_inch = 0;
  std::string exif = {};
};
// 1 channel: grey; 3: colour; 4: CMYK.
void write_jpeg_file(const std::string& path, const Shape& shape, const JpegKind& kind = {});

struct TiffKind {
  int bits = 8;
  int photometric = -1;  // -1: BlackIsZero or RGB by the number of channels
  int compression = 1;
  int sample_format = 1;
  bool separate = false;
  int rows_per_strip = 0;  // 0: all
  int tile_width = 0, tile_height = 0;
  std::vector<int> extra_samples = {};
  std::vector<std::vector<int>> colour_map = {};  // red, green, blue of 2^bits entries
  int orientation = 0;
  int largest_sample = 0;  // tag 281
  int pages = 1;
  unsigned subfile_type = 0;
  double x_resolution = 0.0, y_resolution = 0.0;
  std::string make = {}, model = {};
  std::string mode = "w";  // "w8": BigTIFF; "wb": big-endian
};
void write_tiff_file(const std::string& path, const Shape& shape, const TiffKind& kind = {});

// 8-bit grey, with the directory in front of the pixels (libtiff writes it behind them). The strips must fill the
// picture.
void write_front_directory_tiff(const std::string& path, const Shape& shape, int rows_per_strip);

struct BmpKind {
  int bits = 24;
  bool top_down = false;
  bool alpha_mask = false;                     // 32 bits under a header that says so
  std::vector<std::vector<int>> colours = {};  // palette of 1, 4 and 8 bits
};
// 1 channel: palette indices; 3 or 4: colours.
void write_bmp_file(const std::string& path, const Shape& shape, const BmpKind& kind);

}  // namespace picture_files
