#include "progress.h"

#include <unistd.h>

#include <iostream>
#include <string>

namespace gradus {
namespace {
constexpr std::size_t kBarWidth = 30;
}

Progress::Progress(std::size_t total, bool wanted)
    : total_(total), shown_(wanted && total > 1 && isatty(STDERR_FILENO) == 1) {
  show();
}

Progress::~Progress() { make_way(); }

void Progress::advance() {
  ++done_;
  show();
}

void Progress::make_way() const {
  if (shown_) std::cerr << "\r\x1b[K" << std::flush;
}

void Progress::show() const {
  if (!shown_) return;
  const std::size_t filled = kBarWidth * done_ / total_;
  std::cerr << '\r' << std::string(filled, '=') << std::string(kBarWidth - filled, '.') << ' ' << done_ << " of "
            << total_ << std::flush;
}

}  // namespace gradus
