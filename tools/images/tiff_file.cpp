#include "images/tiff_file.h"

#include <unistd.h>

#include <array>
#include <cstdarg>

namespace images {
namespace {

tmsize_t refuse_write(thandle_t, void*, tmsize_t) { return -1; }
int keep_open(thandle_t) { return 0; }  // the Input closes the file

// Where the header says that the first directory lies.
std::uint64_t first_directory(std::FILE* file) {
  std::array<unsigned char, 16> head{};
  std::rewind(file);
  if (std::fread(head.data(), 1, head.size(), file) < 8) return ~std::uint64_t{0};
  const bool big_endian = head[0] == 'M';
  const bool big_tiff = head[2] == '+' || head[3] == '+';
  const std::size_t at = big_tiff ? 8 : 4;
  const std::size_t bytes = big_tiff ? 8 : 4;
  std::uint64_t offset = 0;
  for (std::size_t i = 0; i < bytes; ++i) offset = offset << 8 | head[big_endian ? at + i : at + bytes - 1 - i];
  return offset;
}

}  // namespace

TiffFile::TiffFile(const Input& input, const Limits& limits)
    : descriptor_(fileno(input.file.get())), bytes_(input.bytes), tiff_(nullptr, TIFFClose) {
  const std::unique_ptr<TIFFOpenOptions, decltype(&TIFFOpenOptionsFree)> options(TIFFOpenOptionsAlloc(),
                                                                                 TIFFOpenOptionsFree);
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), static_cast<tmsize_t>(limits.max_bytes));
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), on_error, this);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), on_warning, this);
  // No memory map ("m"): a file cut while it is mapped would end the process.
  tiff_.reset(TIFFClientOpenExt("", "rm", this, on_read, refuse_write, on_seek, keep_open, on_size, nullptr, nullptr,
                                options.get()));
}

std::optional<int> TiffFile::count_pages() {
  complaint_.clear();
  const auto pages = static_cast<int>(TIFFNumberOfDirectories(tiff_.get()));
  if (!complaint_.empty()) return std::nullopt;
  return pages;
}

void TiffFile::expect_pixels() {
  pixels_ = true;
  complaint_.clear();
}

int TiffFile::on_error(TIFF*, void* self, const char*, const char* format, va_list arguments) {
  auto& complaint = static_cast<TiffFile*>(self)->complaint_;
  if (!complaint.empty()) return 1;
  std::array<char, 256> text{};
  std::vsnprintf(text.data(), text.size(), format, arguments);
  complaint = text.data();
  return 1;  // dealt with: the handlers of the process are not asked
}

int TiffFile::on_warning(TIFF* tiff, void* self, const char* module, const char* format, va_list arguments) {
  return static_cast<TiffFile*>(self)->pixels_ ? on_error(tiff, self, module, format, arguments) : 1;
}

tmsize_t TiffFile::on_read(thandle_t self, void* bytes, tmsize_t count) {
  auto* file = static_cast<TiffFile*>(self);
  tmsize_t done = 0;
  while (done < count) {
    const auto place = static_cast<off_t>(file->place_);
    const ssize_t got = pread(file->descriptor_, static_cast<char*>(bytes) + done, count - done, place);
    if (got <= 0) break;
    done += got;
    file->place_ += got;
  }
  return done;
}

toff_t TiffFile::on_seek(thandle_t self, toff_t offset, int whence) {
  auto* file = static_cast<TiffFile*>(self);
  const toff_t from = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? file->place_ : file->bytes_;
  return file->place_ = from + offset;
}

toff_t TiffFile::on_size(thandle_t self) { return static_cast<TiffFile*>(self)->bytes_; }

ReadError open_failure(Input& input, const TiffFile& file) {
  if (first_directory(input.file.get()) >= input.bytes) {
    return {"truncated", "its directory, which tells where the rows lie, is cut off; export it again"};
  }
  return {"corrupt", "damaged directory (" + file.complaint() + "); export it again"};
}

}  // namespace images
