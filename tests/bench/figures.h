// Figures with their limits, as the bench prints them.
#pragma once

#include <string>
#include <vector>

namespace bench {

enum class Limit { at_most, at_least };

class Figures {
 public:
  // Prints the figure and keeps whether it holds. `how` says what it is made of.
  void add(const std::string& name, double value, Limit limit, double target, const std::string& how);
  // An answer that is not right counts as a missed figure.
  void check_answer(const std::string& name, bool right, const std::string& what);
  int missed() const { return missed_; }

 private:
  int missed_ = 0;
};

// Of an odd or even number of values, at least one; the upper of the two middle ones.
double median(std::vector<double> values);

}  // namespace bench
