#include "new_lab.h"

#include <images/output_file.h>

#include <filesystem>

#include "messages.h"
#include "outputs.h"

namespace gradus {

const char* new_lab_text() {
  return R"toml(# The scales and set-ups of a room. Change what stands here to what you have and take out what you do not know:
# what is not said is not assumed, and shows in the budget as "not stated".
#
# Lengths, temperatures, shares and angles are texts with their unit: "10um", "0.01mm", "21 degC", "0.5 %", "1 deg".

schema = 1                                   # of this file's form

[room]
name = "wool room"
laboratory = "an invented testing laboratory" # for the head of pages
address = "1 Example Lane, Exampletown"
temperature = { value = "21 degC", limits = "2 degC" }   # it stays within value +- limits

# ---- one [[scale]] for every stage micrometer -----------------------------------------------------------------------
[[scale]]
name = "SM-A"                                # required: what the set-ups call it
division = "10um"                            # required: nominal distance of neighbouring graduations
divisions = 100                              # required: how many there are in all
long_every = 10                              # the longest graduations stand at every so many divisions; 0: all alike
free_ends = "unknown"                        # with graduation 0 at the left, the free ends of the graduations point "up"
                                             # or "down": so a picture tells which way the numbers run
line_width = "2um"                           # of a graduation; for advise
material = "soda-lime"                       # or "borosilicate", "fused silica"; or instead of it
# expansion = { value = "9.1e-6 /K", limits = "0.9e-6 /K" }
serial = "0001"
certificate = "C-0001"                       # its number
laboratory = "an accredited laboratory"
calibrated = 2025-03-04                      # dates: year-month-day
recalibrate_by = 2030-03-04
certificate_temperature = "20 degC"          # at which the certified lengths hold (20 degC when left out)
expanded_uncertainty = "0.15um"              # U of the certified lengths; or { constant = "0.1um", per_length = 1e-6 }
coverage_factor = 2                          # k of that (2 when left out)
independent_positions = false                # true only when the certificate says that U is of single positions whose
                                             # errors are independent; false: one error of the whole length in view
corrections = [                              # certified minus nominal position, at the nominal position
  ["0um", "0um"],
  ["500um", "0.04um"],
  ["1000um", "0.12um"],
]
# graduation_errors = "0.1um"                # limits (+-) of a position, where there are no corrections

# ---- one [[setup]] for every fixed optical state --------------------------------------------------------------------
[[setup]]
name = "wool-10x"                            # required
images = ["10x/*", "*_10x.*"]                # required: globs on the path or on what it ends with; * stops at a /
check_images = ["check/*_10x.*"]             # which of its pictures are check shots; all are tried when left out
# check_base = 20                            # its charts take their limits from so many first check shots
# check_region = [0, 900, 400, 60]           # ruled lines stand there in every picture: left, top, width, height, pixels
# scale_bar = { region = [900, 880, 360, 70], length = "100um" }   # a bar is drawn there into every picture, for checks
scale = "SM-A"                               # required: the [[scale]] it is calibrated with
kind = "camera"                              # or "reticle", of an eyepiece
microscope = "stand 2"
objective = { magnification = 10, aperture = 0.25 }
relay = 0.5                                  # lens before the camera
zoom = 1                                     # of a zoom body
camera = "monochrome, C-mount"
pixel_pitch = "3.45um"
binning = 1
image_size = [1280, 960]                     # images of another size are refused
# gamma = "linear"                           # how grey values go with light, for measure: or "srgb", or the exponent
mirrored = false                             # true when the camera shows the slide as in a mirror
measuring_area = [0, 0, 1280, 960]           # left, top, width, height of the field you measure in (the whole picture)
refocused = true                             # the shots were refocused one by one
# of kind "reticle" also: eyepiece = "10x with 100 divisions", reticle_pitch = "100um" (engraved, for the nominal
# factor), reticle_divisions = 100, parallax = 0.05 (limits of a moving eye, divisions), zoom_setting = "0.5 %" (how well
# a zoom is set again); of budget: repeatability of one series, field, refocusing (of the eyepiece too), slope
tolerance = "0.5 %"                          # on the factor: U at most, and change since the last record
recalibrate_every = "365 d"
objective_tolerance = "5 %"                  # how far the factor may be off the nominal one for the objective,
relay_tolerance = "0 %"                      # and what relay
tube_lens_tolerance = "0 %"                  # and tube lens add to it
# temperature = { value = "23 degC", limits = "3 degC" }   # where it differs from the room's

# Your own figures instead of what the shots show or a default: limits (+-), but for repeatability, which is the standard
# uncertainty of one shot.
# budget = { repeatability = "0.02 %", field = "0.1 %", x_y_difference = "0.02 %", refocusing = "0.01 %", slope = "1 deg" }

# For certified positions where the picture does not show which graduation is which: the place of the scale in the middle
# of the picture, to half a long interval, and which way its numbers grow (right, left, up, down).
# shots = [{ image = "10x/a.*", centre = "500um", numbers_run = "right" }]
)toml";
}

int write_new_lab(const std::string& path) {
  std::error_code ignored;
  if (std::filesystem::exists(path, ignored)) {
    complain(path + ": is there already and is left as it is; name another file");
    return 2;
  }
  if (const std::string problem = output_problem({path, "", ""}, {}); !problem.empty()) {
    complain(problem);
    return 2;
  }
  if (const std::string problem = deliver(path, new_lab_text()); !problem.empty()) {
    complain(problem);
    return 2;
  }
  return 0;
}

}  // namespace gradus
