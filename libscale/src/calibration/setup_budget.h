// The budget of a set-up: from the shots of one or two directions to the lines of docs/uncertainty.md.
#pragma once

#include <scale/setup.h>

#include <algorithm>
#include <vector>

#include "calibration/separation.h"

namespace scale::calibration {

// One ruling of one shot with all that is known along it; sums run over these.
struct Piece {
  SeparationInput input;
  CalibratedAxis axis;
  ShotFactor factor;
  double certificate = 0.0;  // standard, relative
};

// The used pieces of one direction; their weights add up to 1.
using Group = std::vector<const Piece*>;

// Weighted mean of a direction, micrometres per pixel.
double mean_of(const Group& group);

// Scatter of the shots about their plain mean of a direction, relative: squares of so many free values, of which
// `independent` are of shots of their own. Two scales crossed in one picture were laid down and refocused once.
struct Scatter {
  double squares = 0.0;
  int independent = 0;
  int free = 0;
};

// Everything the lines of the budget are made from. `groups` are the directions that count.
struct Sum {
  const ReferenceScale& scale;
  const SetupConditions& conditions;
  const Separation& separation;
  const MeasuringArea& area;
  std::vector<Group> groups;
  double factor = 0.0;

  double share() const { return 1.0 / static_cast<double>(groups.size()); }
  // Weighted mean over all pieces of what they share, so that nothing cancels.
  template <class Value>
  double shared(const Value& value) const {
    double sum = 0.0;
    for (const Group& group : groups)
      for (const Piece* piece : group) sum += share() * piece->factor.weight * value(*piece);
    return sum;
  }
  template <class Value>
  double largest(const Value& value) const {
    double most = 0.0;
    for (const Group& group : groups)
      for (const Piece* piece : group) most = std::max(most, value(*piece));
    return most;
  }
};

// Noise of the pictures alone.
BudgetLine fit_line(const Sum& sum);

// All lines; `for_both` adds the difference of x and y, which a factor along one direction does not have.
std::vector<BudgetLine> budget_of(const Sum& sum, const Scatter& pooled, bool for_both);

}  // namespace scale::calibration
