#include <tiffio.h>

#include <cstring>
#include <memory>
#include <stdexcept>

#include "picture_files.h"

namespace picture_files {
namespace {

void must(bool done) {
  if (!done) throw std::runtime_error("libtiff could not write the test file");
}

// Appends one sample; fewer than 8 bits and 9 to 15 are packed, the first sample in the highest bits.
class Packer {
 public:
  Packer(int bits, bool floating) : bits_(bits), floating_(floating) {}
  void put(double value) {
    if (floating_ && bits_ == 32) return put_bytes(static_cast<float>(value));
    if (floating_) return put_bytes(value);
    if (bits_ == 16) return put_bytes(static_cast<std::uint16_t>(value));
    if (bits_ == 32) return put_bytes(static_cast<std::uint32_t>(value));
    held_ = held_ << bits_ | static_cast<unsigned>(value);
    for (held_bits_ += bits_; held_bits_ >= 8;) {
      held_bits_ -= 8;
      bytes_.push_back(static_cast<unsigned char>(held_ >> held_bits_));
    }
  }
  std::vector<unsigned char> row() {
    if (held_bits_ > 0) bytes_.push_back(static_cast<unsigned char>(held_ << (8 - held_bits_)));
    held_ = 0;
    held_bits_ = 0;
    return std::move(bytes_);
  }

 private:
  template <class Value>
  void put_bytes(Value value) {
    unsigned char raw[sizeof value];
    std::memcpy(raw, &value, sizeof value);
    bytes_.insert(bytes_.end(), raw, raw + sizeof value);
  }
  int bits_;
  bool floating_;
  unsigned held_ = 0;
  int held_bits_ = 0;
  std::vector<unsigned char> bytes_;
};

void set_tags(TIFF* tiff, const Shape& shape, const TiffKind& kind) {
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, shape.width);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, shape.height);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, kind.bits);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, shape.channels);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, kind.sample_format);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, kind.compression);
  const int usual = shape.channels >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
  const int photometric = kind.photometric >= 0 ? kind.photometric : usual;
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, photometric);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, kind.separate ? PLANARCONFIG_SEPARATE : PLANARCONFIG_CONTIG);
  if (kind.tile_width > 0) {
    TIFFSetField(tiff, TIFFTAG_TILEWIDTH, kind.tile_width);
    TIFFSetField(tiff, TIFFTAG_TILELENGTH, kind.tile_height);
  } else {
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, kind.rows_per_strip > 0 ? kind.rows_per_strip : shape.height);
  }
  if (photometric == PHOTOMETRIC_YCBCR) {
    TIFFSetField(tiff, TIFFTAG_YCBCRSUBSAMPLING, 1, 1);
    if (kind.compression == COMPRESSION_JPEG) TIFFSetField(tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
  }
  if (kind.compression == COMPRESSION_JPEG) TIFFSetField(tiff, TIFFTAG_JPEGQUALITY, 100);
}

void set_optional_tags(TIFF* tiff, const TiffKind& kind) {
  const std::vector<std::uint16_t> extra(kind.extra_samples.begin(), kind.extra_samples.end());
  if (!extra.empty()) TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, static_cast<int>(extra.size()), extra.data());
  if (!kind.colour_map.empty()) {
    std::vector<std::uint16_t> maps[3];
    for (int i = 0; i < 3; ++i) maps[i].assign(kind.colour_map[i].begin(), kind.colour_map[i].end());
    TIFFSetField(tiff, TIFFTAG_COLORMAP, maps[0].data(), maps[1].data(), maps[2].data());
  }
  if (kind.orientation > 0) TIFFSetField(tiff, TIFFTAG_ORIENTATION, kind.orientation);
  if (kind.largest_sample > 0) TIFFSetField(tiff, TIFFTAG_MAXSAMPLEVALUE, kind.largest_sample);
  if (kind.subfile_type > 0) TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, kind.subfile_type);
  if (kind.x_resolution > 0.0) {
    TIFFSetField(tiff, TIFFTAG_XRESOLUTION, kind.x_resolution);
    TIFFSetField(tiff, TIFFTAG_YRESOLUTION, kind.y_resolution);
    TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_CENTIMETER);
  }
  if (!kind.make.empty()) TIFFSetField(tiff, TIFFTAG_MAKE, kind.make.c_str());
  if (!kind.model.empty()) TIFFSetField(tiff, TIFFTAG_MODEL, kind.model.c_str());
}

// Samples of columns x.. and the channels of `plane` (-1: all) of row y; 0 outside the picture.
std::vector<unsigned char> packed(const Shape& shape, const TiffKind& kind, int x, int y, int width, int plane) {
  Packer packer(kind.bits, kind.sample_format == SAMPLEFORMAT_IEEEFP);
  for (int i = x; i < x + width; ++i) {
    for (int c = plane < 0 ? 0 : plane; c < (plane < 0 ? shape.channels : plane + 1); ++c) {
      const bool inside = i < shape.width && y < shape.height;
      packer.put(inside ? shape.samples[(static_cast<std::size_t>(y) * shape.width + i) * shape.channels + c] : 0.0);
    }
  }
  return packer.row();
}

void write_tiles(TIFF* tiff, const Shape& shape, const TiffKind& kind, int plane) {
  for (int y = 0; y < shape.height; y += kind.tile_height) {
    for (int x = 0; x < shape.width; x += kind.tile_width) {
      std::vector<unsigned char> tile;
      for (int i = 0; i < kind.tile_height; ++i) {
        const auto row = packed(shape, kind, x, y + i, kind.tile_width, plane);
        tile.insert(tile.end(), row.begin(), row.end());
      }
      must(TIFFWriteTile(tiff, tile.data(), static_cast<std::uint32_t>(x), static_cast<std::uint32_t>(y), 0,
                         static_cast<std::uint16_t>(plane < 0 ? 0 : plane)) > 0);
    }
  }
}

void write_plane(TIFF* tiff, const Shape& shape, const TiffKind& kind, int plane) {
  if (kind.tile_width > 0) return write_tiles(tiff, shape, kind, plane);
  for (int y = 0; y < shape.height; ++y) {
    auto row = packed(shape, kind, 0, y, shape.width, plane);
    must(TIFFWriteScanline(tiff, row.data(), static_cast<std::uint32_t>(y),
                           static_cast<std::uint16_t>(plane < 0 ? 0 : plane)) == 1);
  }
}

}  // namespace

void write_tiff_file(const std::string& path, const Shape& shape, const TiffKind& kind) {
  const std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff(TIFFOpen(path.c_str(), kind.mode.c_str()), TIFFClose);
  must(tiff != nullptr);
  for (int page = 0; page < kind.pages; ++page) {
    set_tags(tiff.get(), shape, kind);
    set_optional_tags(tiff.get(), kind);
    for (int plane = kind.separate ? 0 : -1; plane < (kind.separate ? shape.channels : 0); ++plane) {
      write_plane(tiff.get(), shape, kind, plane);
    }
    must(TIFFWriteDirectory(tiff.get()) == 1);
  }
}

}  // namespace picture_files
