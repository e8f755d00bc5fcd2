// A TIFF file open for reading, and what libtiff says of it. Internal.
#pragma once

#include <tiffio.h>

#include <memory>
#include <string>
#include <vector>

#include "images/reader.h"

namespace images {

// Several of these may read one Input in turn: each keeps its own place in the file.
class TiffFile {
 public:
  explicit TiffFile(const Input& input, const Limits& limits);
  TiffFile(const TiffFile&) = delete;
  TiffFile& operator=(const TiffFile&) = delete;

  TIFF* get() const { return tiff_.get(); }  // null when it could not be opened
  // The first error, and after expect_pixels() the first warning too; empty: none.
  const std::string& complaint() const { return complaint_; }
  // Pages in the file; nothing when it ends or breaks before the last. Clears the complaint.
  std::optional<int> count_pages();
  // While pixels are decoded libtiff calls much damage a warning, what a directory is warned of harms nothing.
  void expect_pixels();

 private:
  static int on_error(TIFF* tiff, void* self, const char* module, const char* format, va_list arguments);
  static int on_warning(TIFF* tiff, void* self, const char* module, const char* format, va_list arguments);
  static tmsize_t on_read(thandle_t self, void* bytes, tmsize_t count);
  static toff_t on_seek(thandle_t self, toff_t offset, int whence);
  static toff_t on_size(thandle_t self);

  int descriptor_;
  toff_t bytes_;
  toff_t place_ = 0;
  bool pixels_ = false;
  std::string complaint_;
  std::unique_ptr<TIFF, decltype(&TIFFClose)> tiff_;
};

// Why `file`, which could not be opened, was not.
ReadError open_failure(Input& input, const TiffFile& file);

// A tag of one number, or `otherwise` when it is absent.
template <class Value>
Value tag_or(TIFF* tiff, unsigned tag, Value otherwise) {
  Value value{};
  return TIFFGetField(tiff, tag, &value) != 0 ? value : otherwise;
}

}  // namespace images
