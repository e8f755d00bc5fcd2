#include <cstdio>

#include <jpeglib.h>

#include "picture_files.h"

namespace picture_files {

void write_jpeg_file(const std::string& path, const Shape& shape, const JpegKind& kind) {
  std::FILE* file = std::fopen(path.c_str(), "wb");
  jpeg_error_mgr errors{};
  jpeg_compress_struct jpeg{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_compress(&jpeg);
  jpeg_stdio_dest(&jpeg, file);
  jpeg.image_width = static_cast<JDIMENSION>(shape.width);
  jpeg.image_height = static_cast<JDIMENSION>(shape.height);
  jpeg.input_components = shape.channels;
  jpeg.in_color_space = shape.channels == 1 ? JCS_GRAYSCALE : shape.channels == 3 ? JCS_RGB : JCS_CMYK;
  jpeg_set_defaults(&jpeg);
  if (kind.stored_as_rgb) jpeg_set_colorspace(&jpeg, JCS_RGB);
  jpeg_set_quality(&jpeg, kind.quality, TRUE);
  const int sampling = kind.subsampled ? 2 : 1;
  jpeg.comp_info[0].h_samp_factor = jpeg.comp_info[0].v_samp_factor = sampling;
  if (kind.progressive) jpeg_simple_progression(&jpeg);
  jpeg.arith_code = kind.arithmetic ? TRUE : FALSE;
  if (kind.dots_per_inch > 0) {
    jpeg.density_unit = 1;
    jpeg.X_density = jpeg.Y_density = static_cast<UINT16>(kind.dots_per_inch);
  }
  jpeg_start_compress(&jpeg, TRUE);
  const std::string exif = kind.exif.empty() ? "" : std::string("Exif\0\0", 6) + kind.exif;
  if (!exif.empty()) {
    jpeg_write_marker(&jpeg, JPEG_APP0 + 1, reinterpret_cast<const JOCTET*>(exif.data()),
                      static_cast<unsigned>(exif.size()));
  }
  const std::size_t count = static_cast<std::size_t>(shape.width) * shape.channels;
  std::vector<JSAMPLE> row(count);
  for (int y = 0; y < shape.height; ++y) {
    for (std::size_t i = 0; i < count; ++i) row[i] = static_cast<JSAMPLE>(shape.samples[y * count + i]);
    JSAMPROW pointer = row.data();
    jpeg_write_scanlines(&jpeg, &pointer, 1);
  }
  jpeg_finish_compress(&jpeg);
  jpeg_destroy_compress(&jpeg);
  std::fclose(file);
}

}  // namespace picture_files
