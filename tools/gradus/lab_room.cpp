#include "lab_room.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace gradus {
namespace {

namespace fs = std::filesystem;

// A room of a hundred set-ups takes 100 kB.
constexpr std::uintmax_t kLargestLabFile = 1'000'000;

std::string why_unreadable(const std::string& path) {
  std::error_code failure;
  const fs::file_status status = fs::status(path, failure);
  if (!fs::exists(status)) return "there is no such file; gradus register new-lab writes one to begin with";
  if (!fs::is_regular_file(status)) return "is not a file; name the lab file";
  if (fs::file_size(path, failure) > kLargestLabFile)
    return "is larger than 1 MB, which no lab file is; name the lab file";
  return "";
}

std::string in_words(const scale::LabProblem& problem) {
  std::string words = problem.line > 0 ? "line " + std::to_string(problem.line) + ": " : "";
  return words + (problem.key.empty() ? "" : problem.key + " ") + problem.message;
}

std::string names_of(const scale::Lab& lab, SetupKind kind = SetupKind::any) {
  std::string names;
  for (const scale::LabSetup& setup : lab.setups)
    if (kind == SetupKind::any || !setup.reticle) names += (names.empty() ? "" : ", ") + setup.name;
  return names;
}

scale::Failure no_setup(const scale::Lab& lab) {
  return {"lab", "no-setup",
          "its path matches the images of no set-up (" + names_of(lab) +
              "); name one with --setup, or add it to the lab file"};
}

scale::Failure several_setups(const scale::Lab& lab, const std::vector<std::size_t>& found) {
  std::string names;
  for (const std::size_t place : found) names += (names.empty() ? "" : " and ") + lab.setups[place].name;
  return {"lab", "several-setups", "its path matches the images of " + names + "; move it, or name one with --setup"};
}

std::size_t place_of(const scale::Lab& lab, const std::string& name) {
  const auto found = std::find_if(lab.setups.begin(), lab.setups.end(),
                                  [&](const scale::LabSetup& setup) { return setup.name == name; });
  return static_cast<std::size_t>(found - lab.setups.begin());
}

}  // namespace

std::string LabRoom::register_path() const { return (fs::path(path).parent_path() / "register.sqlite").string(); }

std::optional<LabRoom> read_lab_room(const std::string& path, std::vector<std::string>& problems) {
  if (const std::string why = why_unreadable(path); !why.empty()) {
    problems.push_back(path + ": " + why);
    return std::nullopt;
  }
  std::ifstream file(path, std::ios::binary);
  LabRoom room{path, std::string(std::istreambuf_iterator<char>(file), {}), {}};
  if (!file) {
    problems.push_back(path + ": cannot be read; check its permissions");
    return std::nullopt;
  }
  scale::LabFile parsed = scale::parse_lab(room.text);
  for (const scale::LabProblem& problem : parsed.problems) problems.push_back(path + ": " + in_words(problem));
  if (!parsed.lab) return std::nullopt;
  room.lab = std::move(*parsed.lab);
  return room;
}

std::string no_such_setup(const LabRoom& room, const std::string& name, SetupKind kind) {
  const std::string names = names_of(room.lab, kind);
  return room.path + ": there is no " + (kind == SetupKind::camera ? "camera " : "") + "set-up '" + name + "' in it" +
         (names.empty() ? "" : " (" + names + ")");
}

void assign_setup(Input& input, const scale::Lab& lab, const std::string& setup, bool check_shots) {
  if (!input.problem.empty()) return;
  const std::vector<std::size_t> found =
      setup.empty() ? scale::setups_of(lab, input.path, check_shots) : std::vector<std::size_t>{place_of(lab, setup)};
  if (found.size() == 1)
    input.setup = found.front();
  else
    input.refusal = found.empty() ? no_setup(lab) : several_setups(lab, found);
}

Examination examination_of(const scale::Lab& lab, std::size_t setup, const std::vector<scale::LabShots>& today,
                           const Examination& general) {
  const scale::LabSetup& of = lab.setups[setup];
  Examination how = general;
  how.setup = of.name;
  how.reference = lab.scales[of.scale].reference;
  how.image_size = of.image_size;
  how.mirrored = of.mirrored;
  if (of.reticle) how.conditions = of.conditions;
  // The command line is asked first: it knows of today's shots.
  how.shots = today;
  how.shots.insert(how.shots.end(), of.shots.begin(), of.shots.end());
  return how;
}

}  // namespace gradus
