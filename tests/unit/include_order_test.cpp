// The way of the data, read from the sources: a unit includes only what stands before it, the public headers bring
// neither OpenCV nor Eigen, and the engine never prints, exits, or reads clock, locale or environment.
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace {

namespace fs = std::filesystem;
using Findings = std::vector<std::string>;

// Folders of libscale/src and public headers of the same name, in the order of the data.
constexpr std::array<std::string_view, 8> kUnits{"numeric", "image",    "ruling", "calibration",
                                                 "record",  "specimen", "drift",  "report"};
// Public headers that belong to no unit and may be included anywhere.
constexpr std::array<std::string_view, 3> kSharedHeaders{"failure", "quantity_text", "units"};
// Public headers of a unit that has another name.
constexpr std::array<std::pair<std::string_view, std::string_view>, 16> kFurtherHeaders{
    {{"uncertainty", "calibration"},
     {"setup", "calibration"},
     {"reticle", "calibration"},
     {"reticle_picture", "calibration"},
     {"two_rulings", "ruling"},
     {"lab", "record"},
     {"register", "record"},
     {"measurement", "specimen"},
     {"control_chart", "drift"},
     {"scale_bar", "drift"},
     {"calibration_page", "report"},
     {"card_page", "report"},
     {"chart_svg", "report"},
     {"check_page", "report"},
     {"measurement_page", "report"},
     {"overview_page", "report"}}};

// Takes out comments, and what stands between quotes too when `strings` says so. Newlines stay.
std::string without_comments(const std::string& text, bool strings) {
  static const std::regex pattern(
      R"re(//[^\n]*|/\*[^*]*\*+(?:[^/*][^*]*\*+)*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])+')re");
  std::string result;
  auto last = text.cbegin();
  for (std::sregex_iterator it(text.begin(), text.end(), pattern), end; it != end; ++it) {
    result.append(last, (*it)[0].first);
    const std::string found = it->str();
    const bool comment = found.front() == '/';
    if (!comment && !strings) result += found;
    if (!comment && strings) result += "\"\"";
    if (comment) result.append(static_cast<std::size_t>(std::count(found.begin(), found.end(), '\n')), '\n');
    last = (*it)[0].second;
  }
  return result.append(last, text.cend());
}

std::vector<std::string> includes_of(const std::string& text) {
  static const std::regex pattern(R"re(#\s*include\s*[<"]([^>"]+)[>"])re");
  const std::string code = without_comments(text, false);
  std::vector<std::string> names;
  for (std::sregex_iterator it(code.begin(), code.end(), pattern), end; it != end; ++it) names.push_back((*it)[1]);
  return names;
}

// Place in kUnits, or -1 for what is not one of them.
int rank_of(std::string_view unit) {
  for (const auto& [header, owner] : kFurtherHeaders)
    if (unit == header) unit = owner;
  const auto found = std::find(kUnits.begin(), kUnits.end(), unit);
  return found == kUnits.end() ? -1 : static_cast<int>(found - kUnits.begin());
}

Findings upward_includes(const std::string& unit, const std::string& text) {
  if (rank_of(unit) < 0) return {"the unit " + unit + " has no place in the order"};
  Findings findings;
  for (const std::string& name : includes_of(text)) {
    const std::size_t slash = name.find('/');
    if (name.find("..") != std::string::npos) findings.push_back(unit + " includes by a way around: " + name);
    if (slash == std::string::npos) continue;
    std::string target = name.substr(0, slash);
    if (target == "scale") {
      target = fs::path(name).stem().string();
      if (std::find(kSharedHeaders.begin(), kSharedHeaders.end(), target) != kSharedHeaders.end()) continue;
      if (rank_of(target) < 0) findings.push_back(unit + " includes " + name + ", which has no place in the order");
    }
    if (rank_of(target) > rank_of(unit)) findings.push_back(unit + " includes upward: " + name);
  }
  return findings;
}

Findings foreign_includes(const std::string& header, const std::string& text) {
  static const std::regex foreign(R"re(opencv2?/.*|Eigen/.*|unsupported/.*)re");
  Findings findings;
  for (const std::string& name : includes_of(text))
    if (std::regex_match(name, foreign)) findings.push_back(header + " includes " + name);
  return findings;
}

Findings forbidden_calls(const std::string& file, const std::string& text) {
  static const std::regex forbidden(
      R"re(\b(?:cout|cerr|clog|wcout|wcerr|stdout|stderr|_Exit|quick_exit|setlocale|getenv|secure_getenv)\b)re"
      R"re(|\w+_clock\s*::\s*now|\bstd\s*::\s*locale\b(?!\s*::\s*classic)|(?:^|[^\w.>])(?:printf|fprintf|vprintf|puts|putchar|perror)re"
      R"re(|exit|abort|terminate|time|clock|clock_gettime|gettimeofday|localtime|gmtime)\s*\()re");
  const std::string code = without_comments(text, true);
  Findings findings;
  for (std::sregex_iterator it(code.begin(), code.end(), forbidden), end; it != end; ++it)
    findings.push_back(file + " uses " + it->str());
  return findings;
}

std::string read(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  REQUIRE(file);
  return {std::istreambuf_iterator<char>(file), {}};
}

std::vector<fs::path> sources_below(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.path().extension() == ".h" || entry.path().extension() == ".cpp") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

const fs::path kLibrary = fs::path(GRADUS_SOURCE_DIR) / "libscale";

void check_none(const Findings& findings) {
  for (const std::string& finding : findings) FAIL_CHECK(finding);
}

}  // namespace

TEST_CASE("no unit of the library includes what stands after it") {
  const auto files = sources_below(kLibrary / "src");
  REQUIRE(files.size() > 5);
  for (const fs::path& path : files) {
    const std::string unit = path.lexically_relative(kLibrary / "src").begin()->string();
    check_none(upward_includes(unit, read(path)));
  }
}

TEST_CASE("no public header includes what stands after it, and only opencv.h brings OpenCV") {
  const auto files = sources_below(kLibrary / "include");
  REQUIRE(files.size() > 3);
  for (const fs::path& path : files) {
    const std::string name = path.stem().string();
    if (rank_of(name) >= 0) check_none(upward_includes(name, read(path)));
    if (name != "opencv") check_none(foreign_includes(path.filename().string(), read(path)));
  }
}

TEST_CASE("the library never prints, exits, or reads the clock, the locale or the environment") {
  for (const fs::path& path : sources_below(kLibrary))
    check_none(forbidden_calls(path.filename().string(), read(path)));
}

TEST_CASE("the check of includes finds an upward one in every spelling and lets the others be") {
  CHECK(upward_includes("ruling", "#include \"calibration/budget.h\"\n").size() == 1);
  CHECK(upward_includes("ruling", "  #  include <scale/calibration.h>\n").size() == 1);
  CHECK(upward_includes("numeric", "#include <scale/image.h>\n").size() == 1);
  CHECK(upward_includes("image", "#include \"../ruling/period.h\"\n").size() >= 1);
  CHECK(upward_includes("image", "#include <scale/novelty.h>\n").size() == 1);
  CHECK(upward_includes("novelty", "").size() == 1);
  CHECK(upward_includes("calibration", "#include \"ruling/fit.h\"\n#include <scale/ruling.h>\n").empty());
  CHECK(upward_includes("image", "#include <scale/units.h>\n#include <vector>\n#include \"frame.h\"\n").empty());
  CHECK(upward_includes("image", "// #include \"report/page.h\"\n/* #include \"drift/x.h\" */").empty());
}

TEST_CASE("the check of public headers finds OpenCV and Eigen") {
  CHECK(foreign_includes("a.h", "#include <opencv2/core.hpp>\n").size() == 1);
  CHECK(foreign_includes("a.h", "#include <Eigen/Core>\n").size() == 1);
  CHECK(foreign_includes("a.h", "#include <vector>\n").empty());
}

TEST_CASE("the check of calls finds each forbidden one") {
  for (const char* bad : {"std::cout << 1;", "std::cerr << x;", "printf(\"x\");", "std::printf(\"x\");", "exit(1);",
                          "std::exit (1);", "std::abort();", "::getenv(\"HOME\");", "time(nullptr);", "std::clock();",
                          "setlocale(LC_ALL, \"\");", "fprintf(stderr, \"x\");",
                          "auto t = std::chrono::steady_clock::now();", "std::locale(\"\");", "return abort();"}) {
    CAPTURE(bad);
    CHECK(!forbidden_calls("bad.cpp", bad).empty());
  }
}

TEST_CASE("the check of calls is silent about comments, strings and longer names") {
  for (const char* good :
       {"// printf(x) and exit(1)", "/* time(nullptr)\n std::cout */", "message = \"abort() time()\";", "run_time(x);",
        "snprintf(buffer, 3, \"x\");", "shot.time();", "const char q = '\"'; // exit(1)", "exit_pupil(1);",
        "stream.imbue(std::locale::classic());", "double time = 1.0;"}) {
    CAPTURE(good);
    CHECK(forbidden_calls("good.cpp", good).empty());
  }
}
