#include "measure_options.h"

#include <scale/quantity_text.h>
#include <scale/register.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>
#include <functional>
#include <map>

#include "image_options.h"
#include "jobs.h"
#include "lab_options.h"
#include "report_options.h"

namespace gradus {
namespace {

void add_parsed(CLI::App& verb, const std::string& name, const std::function<void(const std::string&)>& take,
                const std::string& help, const std::string& form) {
  verb.add_option_function<std::string>(name, take, help)->type_name(form);
}

// `words`: what could have stood there instead of a number, refused already.
double number_of(const std::string& text, const std::string& option, double low, double high,
                 const std::string& words = "") {
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !(value >= low && value <= high))
    throw CLI::ValidationError(option, "'" + text + "' is " + words + "no number from " + CLI::detail::to_string(low) +
                                           " to " + CLI::detail::to_string(high));
  return value;
}

AcrossLine across_of(const std::string& text) {
  AcrossLine line;
  double numbers[4] = {};
  const char* at = text.data();
  const char* const end = text.data() + text.size();
  bool good = true;
  for (int i = 0; i < 4 && good; ++i) {
    const auto [stop, error] = std::from_chars(at, end, numbers[i]);
    const char between = i == 1 ? ':' : ',';
    good =
        error == std::errc{} && std::isfinite(numbers[i]) && (i == 3 ? stop == end : stop != end && *stop == between);
    at = good && i < 3 ? stop + 1 : stop;
  }
  if (!good || std::hypot(numbers[2] - numbers[0], numbers[3] - numbers[1]) < 4.0)
    throw CLI::ValidationError(
        "--across", "'" + text + "' is no X1,Y1:X2,Y2 four pixels apart or more; write it like 20,300:900,300");
  line.from = {numbers[0], numbers[1]}, line.to = {numbers[2], numbers[3]};
  return line;
}

// Edges are off by fractions of a wavelength over the aperture, ten micrometres at most: more is a mistyped unit.
void check_edge(const std::string& option, const std::string& text, double micrometres) {
  constexpr double kMost = 100.0;
  if (std::abs(micrometres) > kMost)
    throw CLI::ValidationError(
        option, "'" + text + "' is more than 100 um, farther than an edge lies off; write it like 0.2um");
}

double gamma_of(const std::string& text) {
  if (const auto named = scale::gamma_named(text)) return *named;
  return number_of(text, "--gamma", scale::kLeastGamma, scale::kMostGamma, "neither linear nor srgb, and ");
}

void add_factor_options(CLI::App& verb, MeasureOptions& options) {
  FactorOptions& factor = options.factor;
  add_parsed(
      verb, "--um-per-pixel",
      [&factor](const std::string& text) { factor.um_per_pixel = number_of(text, "--um-per-pixel", 1e-6, 1e6); },
      "The factor, micrometres per pixel, instead of the register's", "F");
  add_parsed(
      verb, "--factor-uncertainty",
      [&factor](const std::string& text) {
        factor.relative_uncertainty =
            value_or_usage_error(scale::parse_relative_uncertainty(text), "--factor-uncertainty");
      },
      "Expanded uncertainty (k = 2) of that factor: \"0.1 %\"", "SHARE");
  verb.add_option("--lab", factor.lab,
                  "The room's lab file, its register beside it (with --setup: lab.toml in this folder)")
      ->type_name("FILE");
  verb.add_option("--setup", factor.setup, "All images were taken with this set-up, whatever their names")
      ->type_name("NAME");
  verb.add_flag("--accept-overdue", factor.accept_overdue, "Use a calibration that is overdue; every row will say so");
  verb.add_flag("--binning", factor.binning,
                "Images of an exact half, third or quarter of the calibrated size are binned ones");
}

void add_body_options(CLI::App& verb, MeasureOptions& options) {
  verb.add_option_function<std::string>(
          "--kind",
          [&options](const std::string& kind) {
            options.specimen.wanted = kind == "fibre" ? scale::BodyWanted::fibres : scale::BodyWanted::grains;
          },
          "Measure fibres or grains only (default: told apart by shape)")
      ->type_name("KIND")
      ->check(CLI::IsMember({"fibre", "grain"}).description(""));
  verb.add_option_function<std::string>(
          "--tone",
          [&options](const std::string& tone) {
            options.specimen.tone = tone == "dark" ? scale::BodyTone::dark : scale::BodyTone::bright;
          },
          "Bodies are dark or bright against the ground (default: what stands out more)")
      ->type_name("TONE")
      ->check(CLI::IsMember({"dark", "bright"}).description(""));
  verb.add_flag("--part", options.specimen.part, "Separate grains that touch each other at a neck");
  add_parsed(
      verb, "--least-width",
      [&options](const std::string& text) {
        options.least_width = value_or_usage_error(scale::parse_length(text), "--least-width");
      },
      "Narrower bodies are dirt (default: 6 pixels)", "LENGTH");
  add_parsed(
      verb, "--blur",
      [&options](const std::string& text) { options.specimen.edge_blur_px = number_of(text, "--blur", 0.1, 50.0); },
      "Blur of a sharp edge, standard deviation in pixels (default: the scale's in the register, or the bodies' own)",
      "PX");
  add_parsed(
      verb, "--across", [&options](const std::string& text) { options.across = across_of(text); },
      "Instead of bodies: from edge to edge along this line, in pixels", "X1,Y1:X2,Y2");
  verb.add_option_function<int>(
          "--band", [&options](int band) { options.band = band; }, "Pixels across that line that are averaged (11)")
      ->type_name("N")
      ->check(CLI::Range(1, 2000).description(""));
}

void add_uncertainty_options(CLI::App& verb, MeasureOptions& options) {
  add_parsed(
      verb, "--aperture",
      [&options](const std::string& text) { options.aperture = number_of(text, "--aperture", 0.01, 1.7); },
      "Numerical aperture of the objective (default: the lab file's): how far a true edge may lie from its half level",
      "NA");
  add_parsed(
      verb, "--edge-within",
      [&options](const std::string& text) {
        const double limit = value_or_usage_error(scale::parse_deviation(text), "--edge-within").value;
        if (limit < 0.0)
          throw CLI::ValidationError("--edge-within", "'" + text + "' is negative; it is meant to both sides");
        check_edge("--edge-within", text, limit);
        options.edge_uncertainty = scale::Micrometres{limit / std::sqrt(3.0)};
      },
      "Instead: true edges lie within this of the half level, either way", "LENGTH");
  add_parsed(
      verb, "--edge-shift",
      [&options](const std::string& text) {
        options.edge_shift = value_or_usage_error(scale::parse_deviation(text), "--edge-shift");
        check_edge("--edge-shift", text, options.edge_shift.value);
      },
      "Move every edge outwards by this (negative: inwards)", "LENGTH");
  add_parsed(
      verb, "--gamma", [&options](const std::string& text) { options.gamma = gamma_of(text); },
      "How grey values go with light: linear, srgb, or the exponent (default: not known, in the uncertainty)", "CURVE");
}

void add_distribution_options(CLI::App& verb, MeasureOptions& options) {
  add_parsed(
      verb, "--class-width",
      [&options](const std::string& text) {
        options.distribution.class_width = value_or_usage_error(scale::parse_length(text), "--class-width").value;
      },
      "Of the distribution (fibres: 2um; grains: from the values)", "LENGTH");
  add_parsed(
      verb, "--confidence",
      [&options](const std::string& text) {
        options.distribution.confidence = number_of(text, "--confidence", 0.5, 0.9999);
      },
      "Of the interval of the mean (0.95)", "P");
  add_parsed(
      verb, "--mean-within",
      [&options](const std::string& text) {
        options.distribution.wanted = value_or_usage_error(scale::parse_relative_uncertainty(text), "--mean-within");
      },
      "Say whether there are bodies enough for that interval to be within this share: \"1 %\"", "SHARE");
}

void add_measure_output(CLI::App& verb, MeasureOptions& options) {
  verb.add_option("--json", options.output.json, "Write results and distributions as JSON; - is standard output")
      ->type_name("FILE");
  verb.add_option("--csv", options.output.csv, "Write one row a body as CSV, as images finish; - is standard output")
      ->type_name("FILE");
  verb.add_flag("--resume", options.resume, "Go on with the CSV of a run that was broken off");
  verb.add_option("--pictures", options.output.pictures,
                  "Write a picture an image into this folder: outlines and widths")
      ->type_name("DIR");
  add_report_options(verb, options.report,
                     "Write the page of this measurement into this folder: distributions, bodies, pictures");
  verb.add_flag("--record", options.record, "Write the run into the register beside the lab file");
  verb.add_option("--operator", options.made_by, "Who measures, for the register")
      ->type_name("NAME")
      ->check(not_blank());
  verb.add_option(
          "--at", options.made_at,
          "Time of the record and day by which a calibration is due, UTC, like 2026-02-28T09:30:00Z (default: now)")
      ->type_name("TIME");
  verb.add_option("--jobs", options.jobs, "Threads in all (default: as many as the machine has)")
      ->type_name("N")
      ->check(CLI::Range(1, kMostJobs).description(""));
  verb.add_flag("--quiet", options.quiet, "No table, no progress bar, no warnings; errors only");
}

}  // namespace

void add_measure_options(CLI::App& verb, MeasureOptions& options) {
  add_image_options(verb, {options.images, options.recursive, options.region, options.channel});
  add_factor_options(verb, options);
  add_body_options(verb, options);
  add_uncertainty_options(verb, options);
  add_distribution_options(verb, options);
  add_measure_output(verb, options);
}

std::string measure_misfit(const MeasureOptions& options) {
  const FactorOptions& factor = options.factor;
  if (std::string problem = report_misfit(options.report); !problem.empty()) return problem;
  const bool from_register = !factor.lab.empty() || !factor.setup.empty();
  if (factor.um_per_pixel > 0.0 && from_register) return "--um-per-pixel or --lab with --setup: give one of them";
  if (factor.um_per_pixel <= 0.0 && !from_register)
    return "what is a pixel worth? Give --setup NAME (and --lab FILE), or --um-per-pixel";
  if (from_register && factor.relative_uncertainty)
    return "--factor-uncertainty goes with --um-per-pixel; the register has its own";
  if (!from_register && (factor.accept_overdue || factor.binning || options.record))
    return "--accept-overdue, --binning and --record need the register: give --setup or --lab";
  if (options.record && options.made_by.empty())
    return "--record needs --operator NAME, who answers for the measurement";
  if (!options.record && (!options.made_by.empty())) return "--operator says something to the register; add --record";
  if (!options.made_at.empty() && !scale::is_utc_time(options.made_at))
    return "--at: '" + options.made_at + "' is no time in UTC; write it like 2026-02-28T09:30:00Z";
  if (!options.made_at.empty() && !from_register && options.report.folder.empty())
    return "--at needs a calibration that may be due, a record or a page: give --setup or --lab, or --report";
  if (options.resume && (options.output.csv.empty() || options.output.csv == "-"))
    return "--resume goes on with the CSV of a run that was broken off; name it with --csv FILE";
  if (options.resume && (!options.output.json.empty() || !options.report.folder.empty() || options.record))
    return "--json, --report and --record are of whole runs; leave them out with --resume";
  if (options.band && !options.across) return "--band belongs to --across";
  if (options.across &&
      (options.region || options.specimen.part || options.specimen.wanted != scale::BodyWanted::either ||
       options.specimen.tone != scale::BodyTone::either || options.least_width || options.specimen.edge_blur_px > 0.0))
    return "--across measures along its line alone; leave out --region, --kind, --tone, --part, --least-width and "
           "--blur";
  if (options.specimen.part && options.specimen.wanted == scale::BodyWanted::fibres)
    return "--part is for grains; leave out --kind fibre";
  if (options.edge_uncertainty && options.aperture) return "--aperture or --edge-within: give one of them";
  return "";
}

}  // namespace gradus
