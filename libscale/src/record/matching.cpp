#include <fnmatch.h>

#include <scale/lab.h>
#include <algorithm>
#include <charconv>

namespace scale {

bool matches_glob(const std::string& glob, const std::string& path) {
  for (std::size_t start = 0; start != std::string::npos;) {
    if (fnmatch(glob.c_str(), path.c_str() + start, FNM_PATHNAME) == 0) return true;
    const std::size_t slash = path.find('/', start);
    start = slash == std::string::npos ? slash : slash + 1;
  }
  return false;
}

std::vector<std::size_t> setups_of(const Lab& lab, const std::string& path, bool check_shots) {
  const auto matches = [&](const std::string& glob) { return matches_glob(glob, path); };
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < lab.setups.size(); ++i) {
    const LabSetup& setup = lab.setups[i];
    if (std::any_of(setup.images.begin(), setup.images.end(), matches) ||
        (check_shots && std::any_of(setup.check_images.begin(), setup.check_images.end(), matches)))
      found.push_back(i);
  }
  return found;
}

std::optional<std::chrono::year_month_day> parse_date(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  int year = 0;
  unsigned month = 0, day = 0;
  const auto whole = [&](std::size_t from, std::size_t length, auto& value) {
    const char* const end = text.data() + from + length;
    const auto [stop, error] = std::from_chars(text.data() + from, end, value);
    return error == std::errc{} && stop == end;
  };
  if (!whole(0, 4, year) || !whole(5, 2, month) || !whole(8, 2, day)) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month), std::chrono::day(day)};
  return date.ok() ? std::optional(date) : std::nullopt;
}

}  // namespace scale
