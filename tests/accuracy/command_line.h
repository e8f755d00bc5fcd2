// What the programs of this folder share of their command lines.
#pragma once

#include <CLI/CLI.hpp>
#include <cstdio>
#include <optional>
#include <string>
#include <vector>

namespace accuracy {

// Parses and lets `known` say whether each name in `classes` exists. The exit code when there is nothing to run.
template <class Known>
std::optional<int> parse(CLI::App& app, int argc, char** argv, const std::vector<std::string>& classes, Known known) {
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : 2;
  }
  for (const std::string& name : classes) {
    if (known(name)) continue;
    std::fprintf(stderr, "%s: no class of scenes is called '%s'; micrograph --list names them\n", argv[0],
                 name.c_str());
    return 2;
  }
  return std::nullopt;
}

}  // namespace accuracy
