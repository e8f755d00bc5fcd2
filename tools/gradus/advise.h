// gradus register advise: before anybody photographs, which of the room's scales suits which set-up.
#pragma once

#include <scale/lab.h>

#include <string>
#include <vector>

namespace gradus {

// How one scale would look in one set-up.
struct Suitability {
  double graduations = 0.0;  // in view, along the longer side
  double pitch_px = 0.0;
  double relative_uncertainty =
      0.0;  // U / factor (k = 2) from the certificate, the room's temperature and the lines alone
  bool uncertainty_stated = false;  // of the scale
  std::vector<std::string> faults;  // what makes it unsuitable; empty: it suits
};

// Needs the set-up's nominal factor and image size.
Suitability suitability(const scale::LabScale& scale, const scale::LabSetup& setup);

// Prints the advice on every set-up. The exit code: 1 when some set-up has no scale that suits it.
int advise(const std::string& lab_file);

}  // namespace gradus
