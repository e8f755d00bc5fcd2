// gradus reticle size: divisions into micrometres, by a factor of the register.
#pragma once

#include <CLI/App.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace gradus {

struct SizeOptions {
  std::vector<double> divisions;  // a number of divisions, or the readings at both ends
  std::string lab = "lab.toml", setup;
  double estimate = 0.1;  // limits (+-) of a reading
  std::optional<double> zoom;
  bool interpolate = false;
  std::optional<std::pair<double, double>> limits_um;
  std::string at;  // UTC, for dues; empty: now
  std::string json;
};

CLI::App* setup_size(CLI::App& verb, SizeOptions& options);
int run_size(const SizeOptions& options);

}  // namespace gradus
