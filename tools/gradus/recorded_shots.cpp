#include "recorded_shots.h"

#include <cmath>

namespace gradus {
namespace {

using nlohmann::json;

char direction_of(const scale::Ruling& ruling) {
  return std::abs(std::cos(ruling.direction.value)) >= std::abs(std::sin(ruling.direction.value)) ? 'x' : 'y';
}

scale::Ruling ruling_of(const json& kept) {
  scale::Ruling ruling;
  ruling.direction = scale::radians_from_degrees(kept.at("direction_deg"));
  ruling.pitch_px = kept.at("pitch_px");
  const json &index = kept.at("index"), &position = kept.at("position_px"), &ends = kept.at("ends_px");
  for (std::size_t i = 0; i < index.size(); ++i) {
    scale::Graduation line;
    line.index = index.at(i);
    line.position_px = position.at(i);
    line.uncertainty_px = kept.at("uncertainty_px").at(i);
    line.used = kept.at("used").at(i);
    line.x1_px = ends.at(i).at(0), line.y1_px = ends.at(i).at(1);
    line.x2_px = ends.at(i).at(2), line.y2_px = ends.at(i).at(3);
    ruling.graduations.push_back(line);
  }
  return ruling;
}

std::string numbering_words(const scale::Numbering& numbering, const scale::Ruling& ruling) {
  if (!numbering.known || ruling.graduations.empty()) return "";
  const auto number = [&](const scale::Graduation& line) {
    return std::to_string(numbering.first + numbering.step * line.index);
  };
  return number(ruling.graduations.front()) + " to " + number(ruling.graduations.back());
}

// What the calibration says of the ruling of this image along this direction.
void add_factor(RecordedRuling& recorded, const json& content, const std::string& image) {
  for (const json& shot : content.at("result").at("shots")) {
    if (shot.at("image") != image ||
        shot.at("direction").get<std::string>() != std::string(1, recorded.factor.direction))
      continue;
    recorded.factor.um_per_pixel = shot.at("um_per_pixel");
    recorded.factor.fit_uncertainty = shot.at("fit_uncertainty");
    recorded.factor.weight = shot.at("weight");
    recorded.factor.used = shot.at("used");
    if (shot.at("reason").is_string()) recorded.factor.reason = shot.at("reason");
    if (shot.at("numbering").is_object())
      recorded.numbering = {true, shot.at("numbering").at("first"), shot.at("numbering").at("step"), ""};
    recorded.factor.numbering = numbering_words(recorded.numbering, recorded.ruling);
    return;
  }
}

// Straight line through points by least squares, without weights.
struct Line {
  double mean_x = 0.0, mean_y = 0.0, slope = 0.0, sum_xx = 0.0, scatter = 0.0;  // scatter: of a point about the line

  double at(double x) const { return mean_y + slope * (x - mean_x); }
};

Line line_through(const std::vector<std::pair<double, double>>& points) {
  Line line;
  const auto count = static_cast<double>(points.size());
  for (const auto& [x, y] : points) line.mean_x += x / count, line.mean_y += y / count;
  double sum_xy = 0.0, squares = 0.0;
  for (const auto& [x, y] : points) {
    line.sum_xx += (x - line.mean_x) * (x - line.mean_x);
    sum_xy += (x - line.mean_x) * (y - line.mean_y);
  }
  if (line.sum_xx > 0.0) line.slope = sum_xy / line.sum_xx;
  for (const auto& [x, y] : points) squares += std::pow(y - line.at(x), 2);
  if (count > 2.0) line.scatter = std::sqrt(squares / (count - 2.0));
  return line;
}

// Certified minus nominal position, linear between the rows of the certificate; 0 where there is none.
double certified_deviation(const scale::ReferenceScale& reference, double position_um) {
  const auto& rows = reference.corrections;
  for (std::size_t i = 1; i < rows.size(); ++i) {
    const double from = rows[i - 1].position.value, to = rows[i].position.value;
    if (position_um < from || position_um > to || !(to > from)) continue;
    const double share = (position_um - from) / (to - from);
    return (1.0 - share) * rows[i - 1].deviation.value + share * rows[i].deviation.value;
  }
  return 0.0;
}

double nominal_place(const RecordedRuling& ruling, const scale::Graduation& line,
                     const scale::ReferenceScale& reference) {
  const int number = ruling.numbering.known ? ruling.numbering.first + ruling.numbering.step * line.index : line.index;
  return number * reference.division.value;
}

// Of one of `inputs`, without what the calibration made of it.
RecordedShot shot_of(const json& input) {
  RecordedShot shot{input.at("image"), input.at("sha256"), input.at("width"), input.at("height"), {}};
  for (const json& kept : input.at("rulings")) {
    RecordedRuling recorded;
    recorded.ruling = ruling_of(kept);
    recorded.factor.image = shot.image;
    recorded.factor.sha256 = shot.sha256;
    recorded.factor.direction = direction_of(recorded.ruling);
    if (recorded.ruling.pitch_px > 0.0) shot.rulings.push_back(std::move(recorded));
  }
  return shot;
}

}  // namespace

std::vector<RecordedShot> shots_of(const json& content) {
  std::vector<RecordedShot> shots;
  for (const json& input : content.at("inputs")) {
    RecordedShot shot = shot_of(input);
    for (RecordedRuling& recorded : shot.rulings) add_factor(recorded, content, shot.image);
    std::erase_if(shot.rulings, [](const RecordedRuling& recorded) { return !(recorded.factor.um_per_pixel > 0.0); });
    shots.push_back(std::move(shot));
  }
  return shots;
}

std::optional<RecordedShot> eyepiece_shot_of(const json& content) {
  if (!content.contains("/inputs/0"_json_pointer)) return std::nullopt;
  RecordedShot shot = shot_of(content.at("inputs").at(0));
  shot.eyepiece = shot.rulings.size() == 2;
  return shot.eyepiece ? std::optional(std::move(shot)) : std::nullopt;
}

scale::RulingResiduals residuals_of(const RecordedShot& shot, const RecordedRuling& ruling,
                                    const scale::ReferenceScale& reference) {
  scale::RulingResiduals residuals;
  residuals.name = shot.image;
  residuals.direction = ruling.factor.direction;
  residuals.numbered = ruling.numbering.known;
  const double along = (ruling.numbering.known ? ruling.numbering.step : 1) * ruling.factor.um_per_pixel;
  std::vector<std::pair<double, double>> certified, measured;
  for (const scale::Graduation& line : ruling.ruling.graduations) {
    const double place = nominal_place(ruling, line, reference);
    if (!line.used) continue;
    certified.emplace_back(place, certified_deviation(reference, place));
    measured.emplace_back(place, along * line.position_px);
  }
  const Line even = line_through(measured);
  for (const scale::Graduation& line : ruling.ruling.graduations) {
    const double place = nominal_place(ruling, line, reference);
    residuals.points.push_back({place, along * line.position_px - even.at(place),
                                ruling.factor.um_per_pixel * line.uncertainty_px, line.used});
  }
  if (!ruling.numbering.known || reference.corrections.empty() || certified.size() < 3) return residuals;
  const Line trend = line_through(certified);
  const auto [low, high] = std::minmax_element(certified.begin(), certified.end());
  for (const scale::Correction& row : reference.corrections)
    if (row.position.value >= low->first && row.position.value <= high->first)
      residuals.certified.push_back({row.position, {row.deviation.value - trend.at(row.position.value)}});
  return residuals;
}

namespace {

// So many graduations make a part of a ruling; fewer would show their own errors.
constexpr std::size_t kLinesOfPart = 6;
constexpr std::size_t kMostParts = 8;
constexpr int kGridColumns = 6, kGridRows = 5;

struct Part {
  double x_px = 0.0, y_px = 0.0, deviation = 0.0, uncertainty = 0.0;
};

std::vector<Part> parts_of(const RecordedRuling& recorded, const scale::ReferenceScale& reference) {
  std::vector<const scale::Graduation*> used;
  for (const scale::Graduation& line : recorded.ruling.graduations)
    if (line.used) used.push_back(&line);
  const std::size_t count = std::min(kMostParts, used.size() / kLinesOfPart);
  std::vector<Part> parts;
  if (count < 2) return parts;
  std::vector<std::pair<double, double>> all;  // pixels, micrometres
  for (const scale::Graduation* line : used) {
    const double place = nominal_place(recorded, *line, reference);
    all.emplace_back(line->position_px,
                     place + (recorded.numbering.known ? certified_deviation(reference, place) : 0.0));
  }
  const double whole = line_through(all).slope;
  for (std::size_t i = 0; i < count; ++i) {
    const auto from = static_cast<std::ptrdiff_t>(i * used.size() / count);
    const auto to = static_cast<std::ptrdiff_t>((i + 1) * used.size() / count);
    const Line line = line_through({all.begin() + from, all.begin() + to});
    Part part;
    for (auto at = from; at < to; ++at) {
      const scale::Graduation& graduation = *used[static_cast<std::size_t>(at)];
      part.x_px += 0.5 * (graduation.x1_px + graduation.x2_px) / static_cast<double>(to - from);
      part.y_px += 0.5 * (graduation.y1_px + graduation.y2_px) / static_cast<double>(to - from);
    }
    part.deviation = line.slope / whole - 1.0;
    part.uncertainty = std::max(1e-9, line.scatter / std::sqrt(line.sum_xx) / std::abs(whole));
    parts.push_back(part);
  }
  return parts;
}

struct Cell {
  double weight = 0.0, x = 0.0, y = 0.0, deviation = 0.0;
};

}  // namespace

std::vector<scale::LocalScale> local_scales(const std::vector<RecordedShot>& shots,
                                            const scale::ReferenceScale& reference) {
  std::vector<Cell> cells(2 * kGridColumns * kGridRows);
  for (const RecordedShot& shot : shots)
    for (const RecordedRuling& recorded : shot.rulings) {
      if (!recorded.factor.used) continue;
      for (const Part& part : parts_of(recorded, reference)) {
        const int column = std::clamp(static_cast<int>(kGridColumns * part.x_px / shot.width), 0, kGridColumns - 1);
        const int row = std::clamp(static_cast<int>(kGridRows * part.y_px / shot.height), 0, kGridRows - 1);
        const int layer = recorded.factor.direction == 'x' ? 0 : 1;
        Cell& cell = cells[static_cast<std::size_t>((layer * kGridRows + row) * kGridColumns + column)];
        const double weight = 1.0 / (part.uncertainty * part.uncertainty);
        cell.weight += weight;
        cell.x += weight * part.x_px;
        cell.y += weight * part.y_px;
        cell.deviation += weight * part.deviation;
      }
    }
  std::vector<scale::LocalScale> places;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const Cell& cell = cells[i];
    if (!(cell.weight > 0.0)) continue;
    places.push_back({cell.x / cell.weight, cell.y / cell.weight, i < cells.size() / 2 ? 'x' : 'y',
                      cell.deviation / cell.weight, 1.0 / std::sqrt(cell.weight)});
  }
  return places;
}

}  // namespace gradus
