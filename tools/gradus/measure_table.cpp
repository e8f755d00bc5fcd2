#include "measure_table.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "columns.h"
#include "text.h"

namespace gradus {
namespace {

constexpr std::size_t kMostLines = 60;  // of measured images, and as many of refused ones
constexpr int kBar = 40;                // characters of the longest bar of a histogram

std::string reported(double value, double uncertainty) {
  const scale::Reported rounded = scale::for_report(value, uncertainty);
  return fixed(rounded.value, rounded.decimals) + " ± " + fixed(rounded.uncertainty, rounded.decimals);
}

std::string warning_codes(const SpecimenOutcome& outcome) {
  std::set<std::string> codes;
  for (const scale::Warning& warning : outcome.warnings) codes.insert(warning.code);
  std::string text;
  for (const std::string& code : codes) text.append(text.empty() ? "" : ", ").append(code);
  return text;
}

std::string width_range(const std::vector<scale::MeasuredBody>& bodies) {
  if (bodies.size() == 1) return reported(bodies[0].width_um.value, bodies[0].width_um.expanded());
  const auto less = [](const scale::MeasuredBody& a, const scale::MeasuredBody& b) {
    return a.width_um.value < b.width_um.value;
  };
  const auto [least, most] = std::minmax_element(bodies.begin(), bodies.end(), less);
  const int decimals = scale::for_report(most->width_um.value, most->width_um.expanded()).decimals;
  return fixed(least->width_um.value, decimals) + " to " + fixed(most->width_um.value, decimals);
}

std::string histogram(const Summary& summary) {
  const auto& classes = summary.distribution.classes;
  double most = 0.0;
  for (const scale::SizeClass& size : classes) most = std::max(most, size.share);
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(classes[0].high - classes[0].low) + 1e-9)));
  Columns columns({true, true, true, true, false});
  const std::vector<std::string> head = {"from µm", "below µm", "bodies", "share", ""};
  std::vector<std::vector<std::string>> rows;
  constexpr std::size_t kMostClasses = 60;
  if (classes.size() > kMostClasses)
    return "  " + std::to_string(classes.size()) + " classes" +
           (summary.distribution.widened ? ", widened to " + fixed(classes[0].high - classes[0].low, decimals) + " µm"
                                         : "") +
           ": too many to show; give a larger --class-width, or see --json.\n";
  for (const scale::SizeClass& size : classes)
    rows.push_back({fixed(size.low, decimals), fixed(size.high, decimals),
                    fixed(size.count, summary.kind == "grain" ? 1 : 0), fixed(100.0 * size.share, 1) + " %",
                    std::string(static_cast<std::size_t>(std::lround(kBar * size.share / most)), '#')});
  columns.widen(head);
  for (const auto& row : rows) columns.widen(row);
  std::string text = columns.line(head);
  for (const auto& row : rows) text += columns.line(row);
  return text;
}

std::string needed_words(const Summary& summary, const scale::DistributionOptions& options) {
  const scale::SizeDistribution& found = summary.distribution;
  if (!found.needed) return "";
  const bool enough = found.count >= *found.needed;
  return "  For a " + fixed(100.0 * options.confidence, 0) + " % interval of ±" + fixed(100.0 * options.wanted, 2) +
         " % of the mean " + std::to_string(*found.needed) + " bodies are needed: " +
         (enough ? "there are enough.\n" : std::to_string(*found.needed - found.count) + " are missing.\n");
}

std::string block(const Summary& summary, const scale::DistributionOptions& options) {
  const scale::SizeDistribution& found = summary.distribution;
  std::string text =
      (summary.setup.empty() ? "" : summary.setup + ", ") + summary.kind + ", " + summary.quantity + ": ";
  text += std::to_string(found.count) + (found.count == 1 ? " body" : " bodies");
  if (summary.left_out > 0) text += ", " + std::to_string(summary.left_out) + " cut by the frame left out";
  if (found.count == 0) return text + ".\n";
  const int decimals = std::max(1, scale::for_report(found.mean, found.expanded).decimals);
  const auto um = [&](double value) { return fixed(value, decimals); };
  text += "\n  mean      " + reported(found.mean, found.expanded) + " µm, about 95 %";
  text += "\n            " + fixed(found.sampling, decimals + 1) +
          " µm (standard) of it by the scatter of the bodies, which more of them make smaller;";
  text += "\n            " + fixed(found.shared, decimals + 1) + " µm (standard) shared by all of them, which stays";
  if (found.count > 1)
    text += "\n  interval  ±" + fixed(found.interval_half, decimals + 1) + " µm, " +
            fixed(100.0 * options.confidence, 0) + " % confidence, by the scatter alone\n  SD        " + um(found.sd) +
            " µm, coefficient of variation " + fixed(100.0 * found.variation, 1) + " %";
  text += "\n  number    D10 " + um(found.d10) + "  median " + um(found.median) + "  D90 " + um(found.d90) + " µm";
  if (!summary.weighted_by.empty() && found.amount_mean > 0.0)
    text += "\n  by " + summary.weighted_by +
            std::string(8 - std::min<std::size_t>(7, summary.weighted_by.size()), ' ').substr(1) + "D10 " +
            um(found.amount_d10) + "  median " + um(found.amount_median) + "  D90 " + um(found.amount_d90) + "  mean " +
            um(found.amount_mean) + " µm";
  text += "\n" + needed_words(summary, options);
  return found.count > 1 ? text + histogram(summary) : text;
}

}  // namespace

void ImageTable::add(const SpecimenOutcome& outcome) {
  outcome.reason ? ++refused_ : ++measured_;
  unreadable_ += outcome.unreadable();
  bodies_ += outcome.bodies.size();
  if ((outcome.reason ? refused_ : measured_) > kMostLines) return;
  Line line{printable(outcome.image), "", "", "", outcome.reason.has_value()};
  if (outcome.reason) {
    line.notes = "refused: " + outcome.reason->code + ": " + printable(outcome.reason->message);
  } else {
    line.bodies = std::to_string(outcome.bodies.size());
    line.width = width_range(outcome.bodies);
    line.notes = warning_codes(outcome);
  }
  lines_.push_back(std::move(line));
}

std::string ImageTable::text() const {
  Columns columns({false, true, true, false});
  const std::vector<std::string> head = {"image", "bodies", "width µm", "notes"};
  columns.widen(head);
  for (const Line& line : lines_) {
    if (line.refused)
      columns.widen_first(line.image);
    else
      columns.widen({line.image, line.bodies, line.width, line.notes});
  }
  std::string text = columns.line(head) + columns.rule();
  for (const Line& line : lines_)
    text += line.refused ? columns.line(line.image, line.notes)
                         : columns.line({line.image, line.bodies, line.width, line.notes});
  const std::size_t rest = measured_ + refused_ - lines_.size();
  if (rest > 0) text += "and " + std::to_string(rest) + (rest == 1 ? " more image" : " more images");
  if (refused_ > kMostLines) text += ", " + std::to_string(refused_ - kMostLines) + " of them refused";
  if (rest > 0) text += "\n";
  text += columns.rule() + std::to_string(bodies_) + (bodies_ == 1 ? " body in " : " bodies in ") +
          std::to_string(measured_) + (measured_ == 1 ? " image" : " images");
  if (refused_ > 0) text += ", " + std::to_string(refused_) + " refused";
  return text + ".\n";
}

std::string overdue_words(const std::vector<Summary>& summaries, const std::vector<FactorInUse>& factors) {
  std::set<std::size_t> told;
  std::string text;
  for (const Summary& summary : summaries) {
    const FactorInUse& factor = factors[summary.factor];
    if (!factor.overdue || !told.insert(summary.factor).second) continue;
    text += "\nThe calibration of " + factor.setup + " (record " + std::to_string(factor.record) +
            ") was due again on " + factor.due + ", and was used as --accept-overdue asks.\n";
  }
  return text;
}

std::string summary_table(const std::vector<Summary>& summaries, const scale::DistributionOptions& options,
                          bool edge_stated, bool factor_stated) {
  std::string text;
  for (const Summary& summary : summaries) text.append("\n").append(block(summary, options));
  if (summaries.empty()) return text;
  if (!edge_stated)
    text +=
        "\nU leaves out where the true edge lies on the profile, often the largest part: state the objective's\n"
        "--aperture, or --edge-within.\n";
  if (!factor_stated)
    text +=
        "\nU leaves out the uncertainty of the factor, or of the scale behind it: state --factor-uncertainty,\n"
        "or measure with a calibration whose budget is complete.\n";
  return text + "\nNot for diagnosis or regulated counting without validation by those who answer for it.\n";
}

}  // namespace gradus
