#include <scale/drift.h>

#include <algorithm>
#include <cmath>

#include "drift/words.h"

namespace scale {
namespace {

using drift::micrometres;
using drift::percent;
using drift::size_words;

// Tags of one program are rounded alike.
constexpr double kSameTag = 2e-3;
constexpr double kContradicts = 0.02;
constexpr double kSameMagnification = 0.01;
constexpr double kSameAspect = 0.01, kThumbnailAspect = 0.04;
// A pixel size that is further off says something else: how large it is to be printed.
constexpr double kPlausible = 20.0;
// A bar goes from pixel to pixel: its length is rounded, and some count the last pixel as well.
constexpr double kBarRounded = 1.0;
// Of a bar's reading, in standard uncertainties.
constexpr double kReach = 3.0;
// Of a trace, cycles per pixel: a few bins of a spectrum of the pictures in question.
constexpr double kSameFrequency = 4e-3;

// What the fields say, one after the other; `hard` are those that no other field can outweigh.
struct Ballot {
  const FileStatement& file;
  const RegisteredSetup& own;
  std::span<const RegisteredSetup> all;
  Judgement result{};
  bool hard = false;
  int scale_for = 0, scale_against = 0;
  bool pixel_agrees = false, magnification_agrees = false, size_agrees = false, contradicts = false;
  bool bar_missing = false;

  void say(const std::string& code, const std::string& message) { result.evidence.push_back({code, message}); }
  void like(const std::optional<Likeness>& likeness) {
    if (!result.looks_like) result.looks_like = likeness;
  }
};

double aspect(const std::array<int, 2>& size) { return static_cast<double>(size[0]) / size[1]; }

std::optional<double> size_ratio(const FileStatement& file, const RegisteredSetup& own) {
  if (!own.size || file.width <= 0 || file.height <= 0) return std::nullopt;
  if (std::abs(aspect({file.width, file.height}) / aspect(*own.size) - 1.0) > kSameAspect) return std::nullopt;
  return static_cast<double>((*own.size)[0]) / file.width;
}

std::string resized_words(const std::optional<double>& ratio) {
  if (!ratio) return "another shape, so it was cropped";
  return "as after a resize or binning to " + percent(1.0 / *ratio) + ", or a crop";
}

void count_size(Ballot& ballot) {
  const auto& own = ballot.own;
  if (!own.size) return;
  const std::array<int, 2> size{ballot.file.width, ballot.file.height};
  if (size == *own.size) {
    ballot.size_agrees = true;
    return ballot.say("size-agrees", "its " + size_words(size) + " pixels are those of the calibration");
  }
  ballot.hard = true;
  const std::optional<double> ratio = size_ratio(ballot.file, own);
  ballot.say("size-differs", "it is " + size_words(size) + " pixels, the images of " + own.name + " are " +
                                 size_words(*own.size) + ": " + resized_words(ratio));
  if (ratio && own.both) ballot.like(likeness_of(own.both->um_per_pixel * *ratio, own, {}, ratio));
  for (const RegisteredSetup& other : ballot.all)
    if (other.name != own.name && other.size == size) ballot.like(Likeness{other.name, 1.0});
}

// The same field of the shots that were calibrated with.
std::optional<double> calibrated_claim(const RegisteredSetup& own, const StatedPixel& claim) {
  for (const FileStatement& file : own.files)
    for (const StatedPixel& pixel : file.pixels)
      if (pixel.source == claim.source) return pixel.x_um;
  return std::nullopt;
}

bool agrees(const StatedPixel& claim, double um_per_pixel, double share) {
  return std::abs(claim.x_um / um_per_pixel - 1.0) <= share && std::abs(claim.y_um / um_per_pixel - 1.0) <= share;
}

// How far a pixel size that somebody wrote may be off, as a share.
double nominal_share(const RegisteredSetup& own) { return std::max(kContradicts, own.optics_tolerance); }

void count_claim(Ballot& ballot, const StatedPixel& claim) {
  const double registered = ballot.own.both->um_per_pixel;
  const double share = nominal_share(ballot.own);
  const std::string words = claim.source + " states a pixel of " + micrometres(claim.x_um);
  if (agrees(claim, registered, share)) {
    ballot.pixel_agrees = true;
    ++ballot.scale_for;
    return ballot.say("pixel-size-agrees", words + ", the register " + micrometres(registered) + " (agreement within " +
                                               percent(share) + " counts)");
  }
  const std::optional<double> before = calibrated_claim(ballot.own, claim);
  if (before && agrees(claim, *before, kSameTag))
    return ballot.say("pixel-size-as-calibrated",
                      words + ", which is not the factor, but what the calibration pictures state too: no evidence");
  const double off = claim.x_um / registered;
  if (off > kPlausible || off < 1.0 / kPlausible)
    return ballot.say("resolution-ignored", words + ", which is no pixel of a specimen: no evidence");
  ++ballot.scale_against;
  ballot.say("pixel-size-differs", words + (claim.y_um == claim.x_um ? "" : " by " + micrometres(claim.y_um)) +
                                       ", the register " + micrometres(registered));
  ballot.like(likeness_of(claim.x_um, ballot.own, ballot.all, size_ratio(ballot.file, ballot.own), share));
}

// Tags of one file that say different things are no evidence for or against anything.
bool contradict_one_another(Ballot& ballot) {
  const auto& claims = ballot.file.pixels;
  for (std::size_t i = 1; i < claims.size(); ++i) {
    if (agrees(claims[i], claims[0].x_um, kContradicts)) continue;
    ballot.contradicts = true;
    ballot.say("tags-contradict", claims[0].source + " states a pixel of " + micrometres(claims[0].x_um) + ", " +
                                      claims[i].source + " one of " + micrometres(claims[i].x_um) +
                                      ": neither counts; export the picture again");
    return true;
  }
  return false;
}

void count_pixels(Ballot& ballot) {
  for (const std::string& resolution : ballot.file.ignored)
    ballot.say("resolution-ignored", resolution + " is a default for printing: no evidence");
  if (contradict_one_another(ballot)) return;
  for (const StatedPixel& claim : ballot.file.pixels) count_claim(ballot, claim);
}

void count_bar(Ballot& ballot) {
  if (!ballot.file.bar) return;
  const StatedBar& stated = *ballot.file.bar;
  if (!stated.found.bar) {
    ballot.bar_missing = true;
    return ballot.say("no-bar-found",
                      "no scale bar was found where the set-up says that one stands: " + stated.found.problem +
                          "; put region of its scale_bar in the lab file right, or check the picture by its scale");
  }
  const ScaleBar& bar = *stated.found.bar;
  const double registered = ballot.own.both->um_per_pixel, off = stated.um_per_pixel() / registered - 1.0;
  const double share = nominal_share(ballot.own) + (kBarRounded + kReach * bar.uncertainty_px) / bar.length_px;
  const std::string words = "the scale bar is " + drift::fixed(bar.length_px, 1) + " pixels long; for " +
                            drift::stated_length(stated.length_um) + " that is a pixel of " +
                            micrometres(stated.um_per_pixel()) + ", " + percent(std::abs(off)) +
                            (off < 0.0 ? " below" : " above") + " the registered one (agreement within " +
                            percent(share) + " counts); it shows what whoever drew it believed, not the optics";
  if (std::abs(off) <= share) {
    ballot.pixel_agrees = true;
    ++ballot.scale_for;
    return ballot.say("bar-agrees", words);
  }
  ++ballot.scale_against;
  ballot.say("bar-differs", words);
  ballot.like(likeness_of(stated.um_per_pixel(), ballot.own, ballot.all, size_ratio(ballot.file, ballot.own), share));
}

void count_magnification(Ballot& ballot) {
  const auto& stated = ballot.file.magnification;
  if (!stated || !ballot.own.magnification) return;
  const auto same = [&](const std::optional<double>& other) {
    return other && std::abs(*stated / *other - 1.0) < kSameMagnification;
  };
  const std::string words = "the file states an objective of " + drift::fixed(*stated, *stated < 10.0 ? 1 : 0) + "x";
  if (same(ballot.own.magnification)) {
    ballot.magnification_agrees = true;
    ++ballot.scale_for;
    return ballot.say("magnification-agrees", words + ", as " + ballot.own.name + " has");
  }
  ++ballot.scale_against;
  ballot.say("magnification-differs",
             words + ", that of " + ballot.own.name + " has " + drift::fixed(*ballot.own.magnification, 0) + "x");
  for (const RegisteredSetup& other : ballot.all)
    if (other.name != ballot.own.name && same(other.magnification)) ballot.like(Likeness{other.name, 1.0});
}

void count_binning(Ballot& ballot) {
  const auto& stated = ballot.file.binning;
  if (!stated || !ballot.own.binning || *stated == *ballot.own.binning) return;
  ballot.hard = true;
  ballot.say("binning-differs", "the file states binning " + std::to_string(*stated) + ", " + ballot.own.name +
                                    " has " + std::to_string(*ballot.own.binning));
  if (ballot.own.both)
    ballot.like(likeness_of(ballot.own.both->um_per_pixel * *stated / *ballot.own.binning, ballot.own, {},
                            size_ratio(ballot.file, ballot.own)));
}

void count_camera(Ballot& ballot) {
  const std::string& camera = ballot.file.camera;
  std::string known;
  for (const FileStatement& file : ballot.own.files)
    if (!file.camera.empty()) known = file.camera;
  if (camera.empty() || known.empty()) return;
  const auto same = [&](const FileStatement& file) { return file.camera == camera; };
  if (std::any_of(ballot.own.files.begin(), ballot.own.files.end(), same))
    return ballot.say("camera-agrees", "the camera is the one of the calibration");
  ballot.hard = true;
  ballot.say("camera-differs", "the file names the camera '" + camera + "', the calibration's name '" + known + "'");
}

// What may have happened to the file; tells, but does not decide.
void tell_traces(Ballot& ballot) {
  const FileStatement& file = ballot.file;
  const auto none_like = [&](auto same) {
    return std::none_of(ballot.own.files.begin(), ballot.own.files.end(), same);
  };
  const std::array<int, 2> size{file.width, file.height};
  if (file.original_size && *file.original_size != size &&
      *file.original_size != std::array<int, 2>{file.height, file.width} &&
      none_like([&](const FileStatement& shot) { return shot.original_size == file.original_size; }))
    ballot.say("exported-size", "the file says that the camera wrote " + size_words(*file.original_size) + " pixels");
  if (file.thumbnail_size && std::abs(aspect(*file.thumbnail_size) / aspect(size) - 1.0) > kThumbnailAspect &&
      none_like([](const FileStatement& shot) { return shot.thumbnail_size.has_value(); }))
    ballot.say("crop-trace", "its thumbnail of " + size_words(*file.thumbnail_size) + " has another shape: cropped?");
  if (!ballot.own.files.empty() &&
      none_like([&](const FileStatement& shot) { return shot.bits == file.bits && shot.channels == file.channels; }))
    ballot.say("format-differs", std::to_string(file.channels) + " channels of " + std::to_string(file.bits) +
                                     " bits, unlike the calibration pictures");
}

void count_rescaling(Ballot& ballot) {
  const auto& shots = ballot.own.files;
  for (const double frequency : ballot.file.rescaling) {
    bool always = false, looked = !shots.empty();
    for (const FileStatement& shot : shots) {
      looked = looked && shot.rescaling_looked_for;
      for (const double before : shot.rescaling) always = always || std::abs(before - frequency) < kSameFrequency;
    }
    if (always) continue;
    ballot.hard = ballot.hard || looked;
    return ballot.say("rescaling-trace", "its pixels repeat " + drift::fixed(frequency, 3) +
                                             " times a pixel along rows and columns, as a resize by a broken factor "
                                             "leaves it (by how much it was resized cannot be told)" +
                                             (looked ? ""
                                                     : "; the calibration pictures were not looked at, so that "
                                                       "this is no evidence"));
  }
}

Verdict verdict_of(Ballot& ballot) {
  if (ballot.hard) return Verdict::mismatch;
  if (ballot.scale_for > 0 && ballot.scale_against > 0) {
    ballot.contradicts = true;
    ballot.say("tags-contradict", "one field of the file agrees with the register and another does not");
  }
  if (ballot.contradicts) return Verdict::unverifiable;
  if (ballot.scale_against > 0) return Verdict::mismatch;
  const bool agrees = ballot.pixel_agrees || (ballot.magnification_agrees && ballot.size_agrees);
  if (agrees && ballot.bar_missing) return Verdict::unverifiable;
  if (agrees) return Verdict::within;
  const bool no_trace = ballot.file.rescaling_looked_for && ballot.file.rescaling.empty();
  ballot.say("nothing-to-compare",
             std::string("no scale was read in it, and the file states neither a pixel size nor an objective that "
                         "could be held against the register") +
                 (no_trace ? "; that no trace of a resize is seen proves nothing, since many leave none" : ""));
  return Verdict::unverifiable;
}

}  // namespace

Judgement judge_file(const FileStatement& file, const RegisteredSetup& own, std::span<const RegisteredSetup> all) {
  Ballot ballot{file, own, all};
  if (own.both) count_pixels(ballot), count_bar(ballot);
  count_size(ballot);
  count_magnification(ballot);
  count_binning(ballot);
  count_camera(ballot);
  count_rescaling(ballot);
  tell_traces(ballot);
  ballot.result.verdict = verdict_of(ballot);
  if (ballot.result.verdict != Verdict::mismatch) ballot.result.looks_like.reset();
  if (ballot.result.looks_like) ballot.say("looks-like", "it looks like " + in_words(*ballot.result.looks_like));
  return std::move(ballot.result);
}

}  // namespace scale
