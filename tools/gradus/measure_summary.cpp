#include "measure_summary.h"

#include "measure_csv.h"

namespace gradus {
namespace {

// Diameter classes of the projection-microscope method for wool, micrometres (common practice, no source).
constexpr double kFibreClass = 2.0;
constexpr std::size_t kMostIntervals = 20;  // of a line of measurement that get a distribution of their own

scale::SizedBody sized(const scale::MeasuredValue& value, double weight, double amount) {
  return {value.value, weight, amount, value.own, value.shared, value.rectangular};
}

// dD/D = dA/(2 A).
scale::MeasuredValue diameter_of(const scale::MeasuredBody& body) {
  const double diameter = *body.equivalent_diameter_um, share = 0.5 * diameter / body.area_um2->value;
  return {diameter, share * body.area_um2->own, share * body.area_um2->shared, share * body.area_um2->rectangular};
}

}  // namespace

void Summariser::add(const SpecimenOutcome& outcome) {
  for (std::size_t i = 0; i < outcome.bodies.size(); ++i) {
    const scale::MeasuredBody& body = outcome.bodies[i];
    const std::string kind = kind_words(body.kind);
    const auto gather = [&](const std::string& quantity, const std::string& by, const scale::SizedBody& value) {
      Gathered& gathered = gathered_[{outcome.factor, kind, quantity}];
      gathered.weighted_by = by;
      gathered.sizes.add(value);
      gathered.left_out += value.weight > 0.0 ? 0 : 1;
    };
    if (body.kind == scale::BodyKind::fibre)
      gather("width", "length", sized(body.width_um, body.weight, body.length_um ? body.length_um->value : 0.0));
    if (body.kind == scale::BodyKind::across && i < kMostIntervals)
      gather("interval " + std::to_string(i + 1), "", sized(body.width_um, 1.0, 0.0));
    if (body.kind != scale::BodyKind::grain) continue;
    gather("equivalent circular diameter", "area", sized(diameter_of(body), body.weight, body.area_um2->value));
    gather("least Feret diameter", "area", sized(body.width_um, body.weight, body.area_um2->value));
  }
}

std::vector<Summary> Summariser::summaries(const std::vector<FactorInUse>& factors,
                                           const scale::DistributionOptions& options) {
  std::vector<Summary> list;
  for (auto& [key, gathered] : gathered_) {
    const auto& [factor, kind, quantity] = key;
    scale::DistributionOptions own = options;
    if (own.class_width == 0.0 && kind == "fibre") own.class_width = kFibreClass;
    list.push_back({factors[factor].setup, factor, kind, quantity, gathered.weighted_by, gathered.left_out,
                    gathered.sizes.distribution(own)});
  }
  return list;
}

}  // namespace gradus
