#include "measure_record.h"

#include "measure_json.h"
#include "recording.h"
#include "text.h"

namespace gradus {

void MeasuredImages::add(const SpecimenOutcome& outcome) {
  Json image = {{"image", valid_utf8(outcome.image)}, {"sha256", outcome.sha256}, {"bodies", outcome.bodies.size()}};
  if (outcome.reason) image["reason"] = outcome.reason->code;
  std::string& list = images_[outcome.factor];
  list.append(list.empty() ? "" : ",").append(image.dump());
}

std::vector<std::size_t> MeasuredImages::factors() const {
  std::vector<std::size_t> list;
  for (const auto& [factor, images] : images_) list.push_back(factor);
  return list;
}

MeasurementRecords record_measurements(const LabRoom& room, const std::vector<FactorInUse>& factors,
                                       const MeasuredImages& images, const std::vector<Summary>& summaries,
                                       const std::string& made_by, const std::string& made_at) {
  MeasurementRecords result;
  std::vector<scale::RecordDraft> drafts;
  for (const std::size_t place : images.factors()) {
    const FactorInUse& factor = factors[place];
    if (factor.record == 0 || factor.failure) continue;
    Json summary = Json::array();
    for (const Summary& one : summaries)
      if (one.factor == place) summary.push_back(summary_json(one));
    if (summary.empty()) continue;
    const Json head = {{"schema", "gradus/measurement-record/1"},
                       {"tool", "gradus " GRADUS_VERSION},
                       {"calibration_record", factor.record},
                       {"um_per_pixel", factor_json(factor.um_per_pixel)},
                       {"overdue_accepted", factor.overdue}};
    std::string content = head.dump();
    content.pop_back();  // the closing brace
    content.append(",\"images\":[").append(images.of(place)).append("],\"summary\":").append(summary.dump() + "}");
    drafts.push_back({"measurement", factor.setup, factor.record, made_at, made_by, std::move(content)});
  }
  if (drafts.empty()) return result;
  auto reg = scale::Register::open(room.register_path(), scale::RegisterUse::write);
  if (!reg) {
    result.problem = reg.error().message;
    return result;
  }
  const auto written = reg->append(drafts);
  if (!written) {
    result.problem = "the measurement was not recorded; " + written.error().message;
    return result;
  }
  for (const scale::Record& record : *written) result.numbers.push_back(record.number);
  return result;
}

}  // namespace gradus
