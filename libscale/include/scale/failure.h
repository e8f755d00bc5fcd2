// Failures and warnings as values. The engine never prints: what a person must know travels in these.
#pragma once

#include <string>

namespace scale {

// Why an image was refused. Callers decide by `code` (a closed list in docs/formats.md) and show `message`,
// which says what was seen and what to do next.
struct Failure {
  std::string stage;  // the stage that stopped: "frame", "direction", "period", "graduations", "fit", ...
  std::string code;   // e.g. "no-ruling"
  std::string message;
};

// Something the reader of a result must know although a result was given.
struct Warning {
  std::string code;
  std::string message;
};

}  // namespace scale
