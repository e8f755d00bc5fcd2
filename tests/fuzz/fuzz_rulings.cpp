// Feeds the engine pictures nobody would take. It must not crash, hang, throw or print, and what it gives must be
// finite.
//
//   fuzz_rulings --seed 7 --cases 100000 --seconds 3600   a long run
//   fuzz_rulings --seed 7 --only 4711                     one case of it again
//   fuzz_rulings FILE...                                  bytes of files, as kept from a fuzzer
#include <scale/ruling.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <exception>
#include <fstream>
#include <iterator>
#include <optional>

#include "finite.h"
#include "pictures.h"
#include "watch.h"

namespace {

using fuzz::Picture;

// A picture of a megapixel takes well under a second; the sanitizers cost a factor of ten or more.
constexpr unsigned kHangSeconds = 60;

struct Wish {
  std::uint64_t seed = 1;
  std::uint64_t cases = 2000;
  double seconds = 12.0;
  std::optional<std::uint64_t> only;
  std::vector<std::string> files;
};

std::string name_of(const Picture& picture, const std::string& origin) {
  return origin + " (" + picture.what + ", " + std::to_string(picture.width) + " x " + std::to_string(picture.height) +
         (picture.type == scale::SampleType::u8    ? ", 8 bits)"
          : picture.type == scale::SampleType::u16 ? ", 16 bits)"
                                                   : ", float)");
}

// Empty when the engine did well.
std::string complaint(const Picture& picture, const std::string& name, bool& calibrated) {
  const fuzz::Watch watch(name, kHangSeconds);
  try {
    const scale::Reading reading = scale::find_rulings(picture.view());
    const std::string wrong = fuzz::what_is_wrong(reading);
    calibrated = !reading.rulings.empty();
    if (!wrong.empty()) return "not finite or not possible: " + wrong;
  } catch (const std::exception& error) {
    return std::string("throws: ") + error.what();
  }
  const std::string printed = watch.printed();
  return printed.empty() ? printed : "prints: " + printed.substr(0, 200);
}

struct Count {
  std::uint64_t cases = 0, calibrated = 0, bad = 0;
};

void try_picture(const Picture& picture, const std::string& origin, Count& count) {
  const std::string name = name_of(picture, origin);
  bool calibrated = false;
  const std::string problem = complaint(picture, name, calibrated);
  ++count.cases;
  if (calibrated) ++count.calibrated;
  if (problem.empty()) return;
  ++count.bad;
  std::printf("%s: %s\n", name.c_str(), problem.c_str());
}

// Throws when the file cannot be read.
void try_file(const std::string& path, Count& count) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error(path + ": cannot be read");
  const std::vector<std::uint8_t> bytes{std::istreambuf_iterator<char>(file), {}};
  try_picture(fuzz::from_bytes(bytes), path, count);
}

Count run(const Wish& wish) {
  Count count;
  for (const std::string& path : wish.files) try_file(path, count);
  if (!wish.files.empty()) return count;
  const auto try_number = [&](std::uint64_t number) {
    const std::string origin = "--seed " + std::to_string(wish.seed) + " --only " + std::to_string(number);
    try_picture(fuzz::from_seed(wish.seed, number), origin, count);
  };
  if (wish.only) {
    try_number(*wish.only);
    return count;
  }
  const auto start = std::chrono::steady_clock::now();
  for (std::uint64_t number = 0; number < wish.cases; ++number) {
    if (std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count() > wish.seconds) break;
    try_number(number);
  }
  return count;
}

int report(const Count& count) {
  std::printf("%llu pictures, %llu with a ruling, %llu bad\n", static_cast<unsigned long long>(count.cases),
              static_cast<unsigned long long>(count.calibrated), static_cast<unsigned long long>(count.bad));
  return count.bad == 0 && count.cases > 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  Wish wish;
  CLI::App app("Feeds the engine pictures nobody would take.");
  app.add_option("FILES", wish.files, "bytes to make pictures of; without: pictures from the seed")
      ->check(CLI::ExistingFile);
  app.add_option("--seed", wish.seed, "of the pictures")->capture_default_str();
  app.add_option("--cases", wish.cases, "pictures, at most")->capture_default_str();
  app.add_option("--seconds", wish.seconds, "to go on, at most")->capture_default_str();
  app.add_option("--only", wish.only, "this one picture of the seed");
  CLI11_PARSE(app, argc, argv);
  try {
    return fuzz::outlive([&wish] { return report(run(wish)); });
  } catch (const std::exception& error) {
    std::fprintf(stderr, "fuzz_rulings: %s\n", error.what());
    return 2;
  }
}
