// gradus register: what was recorded, and whether it still is as it was.
#pragma once

#include <CLI/App.hpp>
#include <cstdint>
#include <string>

#include "register_history.h"

namespace gradus {

struct RegisterOptions {
  std::string file = "register.sqlite";
  std::string lab = "lab.toml";  // of new-lab and advise
  std::string setup;             // list, history and affected
  std::string since;             // affected
  HistoryOptions history;
  std::int64_t number = 0;  // show and withdraw
  std::string head;         // verify
  std::string reason, made_by, made_at;
  std::string json, csv;  // export; "-" is standard output
  std::string from;       // import
};

// Adds the verb with its own verbs. Parsing fills `options` and touches no file.
CLI::App* setup_register(CLI::App& app, RegisterOptions& options);

// The exit code: 0 done and sound; 1 the register is not as it was written; 2 it could not be used.
int run_register(const CLI::App& verb, const RegisterOptions& options);

}  // namespace gradus
