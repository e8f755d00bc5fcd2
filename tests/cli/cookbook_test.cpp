// The sessions of docs/cookbook.md, typed and compared to the letter. Blocks marked toml become lab.toml; in blocks
// marked console every line that begins with "$ " is run by a shell in one folder, and what follows is expected back.
// The folder has the samples' pictures through the eyepiece in pictures/.
#include <doctest/doctest.h>

#include <filesystem>
#include <regex>

#include "process.h"

namespace cli_test {
namespace {

struct Typed {
  std::string command, expected;
};

std::vector<Typed> typed_in(const std::string& block) {
  std::vector<Typed> list;
  for (const std::string& line : lines_of(block)) {
    if (line.starts_with("$ "))
      list.push_back({line.substr(2), ""});
    else if (!list.empty())
      list.back().expected += line + "\n";
  }
  return list;
}

std::string came_back(const std::string& command, const std::filesystem::path& folder) {
  const std::string programs = std::filesystem::path(GRADUS_PROGRAM).parent_path().string();
  return run({"/bin/sh", "-c", "PATH=\"" + programs + ":/usr/bin:/bin\"; ( " + command + " ) 2>&1"},
             {folder, false, ""})
      .output;
}

TEST_CASE("the sessions of the cookbook run as they are printed") {
  const std::string page = read_file(COOKBOOK_PAGE);
  const TemporaryFolder folder;
  std::filesystem::copy(SAMPLES_FOLDER "/eyepiece", folder / "pictures");
  const std::regex block("```(toml|console)\n([^`]*)```");
  int commands = 0;
  for (std::sregex_iterator found(page.begin(), page.end(), block), end; found != end; ++found) {
    if ((*found)[1] == "toml") {
      write_file(folder / "lab.toml", (*found)[2]);
      continue;
    }
    for (const Typed& typed : typed_in((*found)[2])) {
      CAPTURE(typed.command);
      CHECK(came_back(typed.command, folder.path()) == typed.expected);
      ++commands;
    }
  }
  CHECK(commands >= 10);
}

}  // namespace
}  // namespace cli_test
