// What all bodies of a run come to: one distribution a set-up, kind and quantity.
#pragma once

#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "measure_image.h"

namespace gradus {

struct Summary {
  std::string setup;        // empty: the factor came from the command line
  std::size_t factor = 0;   // place in the list of factors
  std::string kind;         // as in the CSV
  std::string quantity;     // "width", "least Feret diameter", "equivalent circular diameter", "interval 2"
  std::string weighted_by;  // "length", "area", or empty
  int left_out = 0;         // bodies that the frame cuts, where that matters
  scale::SizeDistribution distribution;
};

// Keeps 24 bytes a body and quantity, and nothing of the images.
class Summariser {
 public:
  void add(const SpecimenOutcome& outcome);
  std::vector<Summary> summaries(const std::vector<FactorInUse>& factors, const scale::DistributionOptions& options);

 private:
  struct Gathered {
    scale::SizeSample sizes;
    std::string weighted_by;
    int left_out = 0;
  };
  // factor, kind, quantity
  std::map<std::tuple<std::size_t, std::string, std::string>, Gathered> gathered_;
};

}  // namespace gradus
