#include "measure_report.h"

#include <filesystem>

#include "measure_csv.h"
#include "print_pdf.h"
#include "text.h"

namespace gradus {
namespace {

constexpr std::size_t kBodies = 60, kRefusals = 30;

// Where the table lies, seen from the page; empty when that cannot be said.
std::string table_address(const std::string& csv, const std::string& folder) {
  if (csv.empty() || csv == "-") return "";
  std::error_code failure;
  const auto path = std::filesystem::relative(csv, folder, failure);
  return failure || path.empty() ? "" : address_of(path.string());
}

}  // namespace

void MeasurementReport::add(SpecimenOutcome& outcome) {
  ++page_.all_images;
  page_.all_bodies += outcome.bodies.size();
  if (outcome.reason) {
    ++page_.all_refused;
    if (page_.refused.size() < kRefusals)
      page_.refused.emplace_back(valid_utf8(outcome.image), valid_utf8(outcome.reason->message));
  }
  for (std::size_t i = 0; i < outcome.bodies.size() && page_.bodies.size() < kBodies; ++i)
    page_.bodies.push_back({valid_utf8(outcome.image), kind_words(outcome.bodies[i].kind), i + 1, outcome.bodies[i]});
  if (!outcome.page_picture) return;
  DrawnPicture picture = std::move(*outcome.page_picture);
  outcome.page_picture.reset();
  picture.page.caption = valid_utf8(outcome.image);
  picture.page.description = "The specimen with the outlines of " + std::to_string(outcome.bodies.size()) +
                             " bodies drawn over it, each with its number.";
  const std::string stem = "measurement-" + std::to_string(page_.pictures.size() + 1);
  if (std::string problem = place_picture(picture, stem, plan_); !problem.empty())
    problems_.push_back(std::move(problem));
  page_.pictures.push_back(std::move(picture.page));
}

std::vector<std::string> MeasurementReport::write(const std::vector<Summary>& summaries,
                                                  const std::vector<FactorInUse>& factors,
                                                  const MeasureOptions& options, const scale::Lab* lab,
                                                  bool edges_stated, const std::vector<std::int64_t>& records) {
  page_.title = "Measurement of " + plan_.printed_at.substr(0, 10);
  if (lab != nullptr) page_.room = lab->room, page_.laboratory = lab->laboratory, page_.address = lab->address;
  page_.measured_at = plan_.printed_at;
  page_.confidence = options.distribution.confidence;
  page_.edges_stated = edges_stated;
  page_.table = table_address(options.output.csv, plan_.folder);
  page_.records = records;
  std::vector<bool> used(factors.size(), false);
  for (const Summary& summary : summaries) {
    used[summary.factor] = true;
    page_.sizes.push_back({valid_utf8(summary.setup), summary.kind, summary.quantity, summary.weighted_by,
                           summary.left_out, summary.distribution});
  }
  for (std::size_t i = 0; i < factors.size(); ++i)
    if (used[i])
      page_.factors.push_back({valid_utf8(factors[i].setup), factors[i].um_per_pixel, factors[i].stated,
                               factors[i].record, factors[i].due, factors[i].overdue});
  for (std::string& problem :
       write_page(kMeasurementPage, scale::measurement_page(page_, page_style(plan_, home_in(plan_))), plan_))
    problems_.push_back(std::move(problem));
  return problems_;
}

}  // namespace gradus
