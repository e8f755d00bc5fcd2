#!/usr/bin/env bash
# make.sh [MICROGRAPH]: renders the sample pictures anew from the tables below, each with its truth beside it.
# MICROGRAPH is the renderer's program; by default the one of the dev build.
set -euo pipefail
cd "$(dirname "$0")"
export LC_ALL=C
micrograph=$(realpath "${1:-../build/dev/tools/micrograph/micrograph}")
scenes=$(mktemp -d)
trap 'rm -rf "$scenes"' EXIT

# name, true micrometres per pixel, objective's blur in micrometres (standard deviation), file format
setups="
4x  1.7474   1.15 jpg
10x 0.68407  0.46 jpg
20x 0.3480   0.29 png
40x 0.17065  0.18 jpg
"

# set-up, shot, seed, angle in degrees; the place of the micrometer that lies in the middle of the picture (micrometres
# along and across from its graduation 0); radius of defocus in pixels, tilt as blur in pixels at the corner; bright
# level, contrast; light's fall to the right and downwards, its loss at the corner; specks of dirt
shots="
4x  a 4101  0.8  500  45  0.6 0.3  0.74 0.70   0.04 -0.03 0.16  14
4x  b 4112 -1.6  460 -60  1.1 0.2  0.66 0.66  -0.05  0.06 0.18  20
4x  c 4103  2.3  555 120  0.4 0.5  0.82 0.74   0.02  0.08 0.15  11
4x  d 4104 90.9  490 -20  0.8 0.4  0.70 0.70   0.03  0.02 0.15  16
10x a 1101  0.4  500  40  0.8 0.6  0.76 0.72   0.05  0.02 0.12  16
10x b 1102 -2.1  470  75  1.6 0.4  0.63 0.68  -0.06 -0.04 0.14  24
10x c 1113  1.2  620  10  0.5 0.9  0.84 0.75   0.03  0.05 0.11   9
10x d 1104 89.2  430  40  1.1 0.5  0.71 0.70  -0.04  0.03 0.13  14
20x a 2101 -0.7  400  35  1.0 0.8  0.72 0.70   0.06 -0.02 0.10  18
20x b 2102  1.9  540  60  2.4 0.6  0.60 0.64  -0.03  0.05 0.12  26
20x c 2103 -3.0  250  20  0.6 1.2  0.80 0.73   0.02  0.04 0.09  12
20x d 2104 91.4  470  40  1.4 0.7  0.69 0.69   0.04  0.03 0.11  15
40x a 4001  1.1  500  40  1.5 1.0  0.68 0.66   0.04  0.03 0.08  15
40x b 4002 -2.6  440  55  3.5 1.4  0.57 0.60  -0.05  0.04 0.10  22
40x c 4003  0.3  600  30  0.9 1.6  0.78 0.70   0.03 -0.06 0.07  10
40x d 4004 88.6  350  40  1.9 1.2  0.70 0.68   0.02 -0.03 0.09  14
"

# A later check of the room: folder, name, true micrometres per pixel and blur of what was really in the microscope, size
# of the stored picture against the camera's; then a shot's columns. One relay lens was turned, one picture exported at
# half size, one from 10x put into the folder of 20x.
checks="
10x monday  0.68407            0.46 1    5101  0.9  505  42  0.9 0.5  0.74 0.71   0.04 0.02 0.12  12
10x tuesday 0.68680628         0.46 1    5102 -1.1  495  38  0.8 0.6  0.76 0.72   0.05 0.02 0.12  14
20x monday  0.68407            0.46 1    5103  1.4  500  40  0.7 0.5  0.75 0.72   0.03 0.04 0.12  10
20x export  0.3480             0.29 0.5  5104 -0.6  450  36  1.0 0.8  0.72 0.70   0.06 0.02 0.10  12
40x monday  0.17065            0.18 1    5105  0.7  480  40  1.3 1.0  0.68 0.66   0.04 0.03 0.08  12
"

# The stage micrometer: 100 divisions of 10 um, lines 2.5 um wide, every fifth and tenth longer, numerals at the
# tenths. One slide lies under every shot, so its graduation errors are the same in all: at the tenths those below, in
# nanometres, straight in between, and 20 nm (standard deviation) of each line's own. Its certificate in lab.toml has the
# tenths, each off by what the certificate's own uncertainty lets expect. The camera: 1280 x 960, 10 000 electrons at
# full scale.
tenths_nm="0 14 34 52 60 55 63 88 118 146 171"
slide_seed=7

slide_errors_um() { # one number a graduation
  awk -v tenths="$tenths_nm" -v state="$slide_seed" 'BEGIN {
    split(tenths, e, " ")
    for (n = 0; n <= 100; ++n) {
      own = -6
      # Lehmer generator (Park and Miller, minimal standard); the sum of twelve numbers is near enough to normal.
      for (i = 0; i < 12; ++i) { state = (16807 * state) % 2147483647; own += state / 2147483647 }
      k = int(n / 10); share = n / 10 - k
      between = (1 - share) * e[k + 1] + (share > 0 ? share * e[k + 2] : 0)
      printf("%s%.6f", (n > 0 ? " " : ""), (between + 20 * own) / 1000)
    }
  }'
}
errors=$(slide_errors_um)

scene_of() { # true factor, blur in micrometres, seed, then the shot's columns
  awk -v factor="$1" -v blur="$2" -v seed="$3" -v angle="$4" -v along="$5" -v across="$6" -v defocus="$7" -v tilt="$8" \
    -v errors="$errors" -v level="$9" -v contrast="${10}" -v fall_x="${11}" -v fall_y="${12}" -v corner="${13}" -v dirt="${14}" -v quality="${15}" 'BEGIN {
    turn = angle * 3.14159265358979 / 180; px = 1 / factor
    x = 639.5 - px * (along * cos(turn) - across * sin(turn))
    y = 479.5 - px * (along * sin(turn) + across * cos(turn))
    printf "{\"name\": \"wool room\", \"seed\": %d, \"width\": 1280, \"height\": 960,\n", seed
    printf " \"ground\": {\"level\": %s, \"contrast\": %s},\n", level, contrast
    printf " \"scales\": [{\"angle_deg\": %s, \"pitch_px\": %.9f, \"origin_x\": %.6f, \"origin_y\": %.6f, \"count\": 101,\n", angle, 10 * px, x, y
    printf "  \"line_width_px\": %.6f, \"short_px\": %.4f, \"medium_px\": %.4f, \"long_px\": %.4f,\n", 2.5 * px, 60 * px, 90 * px, 120 * px
    count = split(errors, e, " ")
    for (n = 1; n <= count; ++n) list = list (n > 1 ? ", " : "") sprintf("%.6f", e[n] * px)
    printf "  \"errors_px\": [%s],\n", list
    printf "  \"numeral_px\": %.4f, \"amplitude\": 0.95, \"amplitude_variation\": 0.03}],\n", 22 * px
    printf " \"optics\": {\"gaussian_px\": %.6f, \"disc_px\": %s, \"focus_gradient\": %s, \"focus_angle_deg\": 20},\n", blur * px, defocus, tilt
    printf " \"shading\": {\"linear_x\": %s, \"linear_y\": %s, \"vignette\": %s, \"mottle\": 0.01},\n", fall_x, fall_y, corner
    printf " \"clutter\": {\"dirt\": %d, \"scratches\": 1, \"strength\": 0.5},\n", dirt
    printf " \"sensor\": {\"full_well\": 10000, \"read_noise\": 0.6, \"jpeg_quality\": %d}}\n", quality
  }'
}

while read -r setup factor blur format; do
  [[ -n $setup ]] || continue
  folder=calibration/$setup
  rm -rf "$folder"
  mkdir -p "$folder"
  quality=0
  [[ $format != jpg ]] || quality=92
  while read -r of shot recipe; do
    [[ $of == "$setup" ]] || continue
    # shellcheck disable=SC2086  # the recipe is a row of columns
    scene_of "$factor" "$blur" $recipe "$quality" >"$scenes/$shot.json"
    "$micrograph" --scene "$scenes/$shot.json" --out "$scenes" --format "$format"
    mv "$scenes/${shot}_picture.$format" "$folder/$shot.$format"
    mv "$scenes/${shot}_picture.json" "$folder/$shot.json"
  done <<<"$shots"
done <<<"$setups"

rm -rf check
while read -r setup name factor blur size recipe; do
  [[ -n $setup ]] || continue
  mkdir -p "check/$setup"
  # shellcheck disable=SC2086  # the recipe is a row of columns
  scene_of "$factor" "$blur" $recipe 88 | sed "s/\"sensor\": {/\"sensor\": {\"resample\": $size, /" >"$scenes/$name.json"
  "$micrograph" --scene "$scenes/$name.json" --out "$scenes" --format jpg
  mv "$scenes/${name}_picture.jpg" "check/$setup/$name.jpg"
  mv "$scenes/${name}_picture.json" "check/$setup/$name.json"
done <<<"$checks"

# Wool fibres through the 10x objective: picture, seed, fibres, defocus as blur in pixels (standard deviation), bright level,
# contrast, light's fall to the right and at the corner, specks of dirt. Diameters are drawn from a normal distribution of
# 21.5 um with a standard deviation of 4.5 um; fibres taper by up to a tenth and have scales of 2 % of their width.
wool="
a 5101 4 1.1 0.74 0.55  0.05 0.12  6
b 5102 5 1.3 0.66 0.50 -0.06 0.14 10
c 5103 3 1.0 0.80 0.60  0.03 0.10  4
d 5104 5 1.6 0.70 0.55 -0.04 0.13 14
e 5105 4 1.2 0.72 0.45  0.05 0.12  8
f 5106 5 1.4 0.69 0.55  0.02 0.15 12
"

fibre_scene_of() { # seed, fibres, blur, level, contrast, fall, corner, dirt
  awk -v seed="$1" -v count="$2" -v blur="$3" -v level="$4" -v contrast="$5" -v fall="$6" -v corner="$7" -v dirt="$8" '
  function uniform(low, high) { state = (16807 * state) % 2147483647; return low + (high - low) * state / 2147483647 }
  function normal(  i, sum) { sum = -6; for (i = 0; i < 12; ++i) sum += uniform(0, 1); return sum }
  BEGIN {
    state = seed * 7919; for (i = 0; i < 10; ++i) uniform(0, 1)
    printf "{\"name\": \"wool fibres\", \"seed\": %d, \"width\": 1280, \"height\": 960,\n", seed
    printf " \"ground\": {\"level\": %s, \"contrast\": %s},\n \"bodies\": [", level, contrast
    first = uniform(0, 180)
    for (n = 0; n < count; ++n) {
      width = (21.5 + 4.5 * normal()) / 0.68407; angle = (first + 180 * n / count + uniform(-12, 12)) * 3.14159265358979 / 180
      x = uniform(250, 1030); y = uniform(200, 760); long = uniform(700, 1900); bend = uniform(-0.0006, 0.0006)
      printf "%s\n  {\"fibre\": true, \"width_px\": %.4f, \"taper\": %.3f, \"scales\": 0.02, \"scales_period_px\": %.1f, \"points\": [", (n > 0 ? "," : ""), width, uniform(-0.1, 0.1), 2.5 * width
      for (i = 0; i <= 80; ++i) {
        t = long * (i / 80 - 0.5); u = sin(bend * t) / bend; v = (1 - cos(bend * t)) / bend
        printf "%s%.3f, %.3f", (i > 0 ? ", " : ""), x + u * cos(angle) - v * sin(angle), y + u * sin(angle) + v * cos(angle)
      }
      printf "]}"
    }
    printf "],\n \"optics\": {\"gaussian_px\": %s},\n", blur
    printf " \"shading\": {\"linear_x\": %s, \"vignette\": %s, \"mottle\": 0.01},\n", fall, corner
    printf " \"clutter\": {\"dirt\": %d, \"strength\": 0.5},\n", dirt
    printf " \"sensor\": {\"full_well\": 10000, \"read_noise\": 0.6, \"jpeg_quality\": 92}}\n"
  }'
}

rm -rf fibres
mkdir -p fibres/10x
while read -r shot recipe; do
  [[ -n $shot ]] || continue
  # shellcheck disable=SC2086  # the recipe is a row of columns
  fibre_scene_of $recipe >"$scenes/$shot.json"
  "$micrograph" --scene "$scenes/$shot.json" --out "$scenes" --format jpg
  mv "$scenes/${shot}_picture.jpg" "fibres/10x/$shot.jpg"
  mv "$scenes/${shot}_picture.json" "fibres/10x/$shot.json"
done <<<"$wool"

# The stand without a camera: a telephone held to its eyepiece by hand shows the stage micrometer above and the eyepiece's
# reticle of 100 divisions below it, zero lines together. One reticle division is worth 10.311 um on the object; the
# micrometer's divisions are 8.2 pixels here. The telephone is a little askew, its field round, its light warm and uneven.
reticle_um=10.311
division_px=8.2

eyepiece_scene() {
  awk -v worth="$reticle_um" -v px="$division_px" -v errors="$errors" 'BEGIN {
    count = split(errors, e, " ")
    for (n = 1; n <= count; ++n) list = list (n > 1 ? ", " : "") sprintf("%.6f", e[n] * px / 10)
    printf "{\"name\": \"wool room, eyepiece\", \"seed\": 6101, \"width\": 1024, \"height\": 768,\n"
    printf " \"ground\": {\"level\": 0.72, \"contrast\": 0.8},\n"
    printf " \"scales\": [{\"angle_deg\": 0.7, \"pitch_px\": %s, \"origin_x\": 93, \"origin_y\": 285, \"count\": 101,\n", px
    printf "  \"line_width_px\": 2.05, \"short_px\": 49, \"medium_px\": 62, \"long_px\": 82, \"amplitude\": 0.75,\n"
    printf "  \"errors_px\": [%s]},\n", list
    # 105 pixels further along the lines, so that the zero lines are one.
    printf "  {\"angle_deg\": 0.7, \"pitch_px\": %.6f, \"origin_x\": %.6f, \"origin_y\": %.6f, \"count\": 101,\n", px * worth / 10, 93 - 105 * sin(0.7 * 3.14159265358979 / 180), 285 + 105 * cos(0.7 * 3.14159265358979 / 180)
    printf "  \"line_width_px\": 1.8, \"short_px\": 38, \"medium_px\": 50, \"long_px\": 62, \"numeral_px\": 20, \"base_line_px\": 1.8}],\n"
    printf " \"optics\": {\"gaussian_px\": 0.95},\n"
    printf " \"geometry\": {\"tilt_x\": 0.008, \"tilt_y\": -0.006, \"distortion\": 0.002},\n"
    printf " \"shading\": {\"linear_x\": 0.06, \"linear_y\": -0.04, \"vignette\": 0.15},\n"
    printf " \"field\": {\"on\": true, \"x\": 520, \"y\": 392, \"radius_px\": 464, \"softness_px\": 3, \"outside\": 0.02},\n"
    printf " \"clutter\": {\"dirt\": 6, \"strength\": 0.5},\n"
    printf " \"colour\": {\"channels\": 3, \"red\": 1.0, \"green\": 0.94, \"blue\": 0.78},\n"
    printf " \"sensor\": {\"full_well\": 6000, \"read_noise\": 1.0, \"sharpen\": 0.3, \"jpeg_quality\": 88}}\n"
  }'
}

rm -rf eyepiece
mkdir -p eyepiece
eyepiece_scene >"$scenes/10x.json"
"$micrograph" --scene "$scenes/10x.json" --out "$scenes" --format jpg
mv "$scenes/10x_picture.jpg" eyepiece/10x.jpg
mv "$scenes/10x_picture.json" eyepiece/10x.json
