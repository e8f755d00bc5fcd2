#!/usr/bin/env bash
# Builds gradus, calibrates the sample room by its lab file, shows what the register is good for, and measures the room's
# fibres; leaves tables, marked pictures and the register in demo-output/.
set -euo pipefail
cd "$(dirname "$0")/.."

# shellcheck source=tools/packages.sh
source tools/packages.sh
tools/install-packages.sh "${build_packages[@]}" "${demo_packages[@]}"
cmake --preset release >/dev/null
cmake --build --preset release --parallel "$(nproc)" --target gradus
gradus=$PWD/build/release/tools/gradus/gradus

rm -rf demo-output
mkdir -p demo-output
cp samples/lab.toml demo-output/
a_week_ago=$(date -u -d "7 days ago" +%Y-%m-%dT%H:%M:%SZ)
"$gradus" calibrate samples/calibration --recursive --lab demo-output/lab.toml --budget --monte-carlo 200000 \
  --record --operator "A. Keeper" --at "$a_week_ago" \
  --pictures demo-output/pictures --csv demo-output/calibration.csv --json demo-output/calibration.json

cd demo-output
echo
echo "What was recorded, and the proof that it is as it was written:"
"$gradus" register list
"$gradus" register verify
head=$("$gradus" register verify | sed -n 's/^head *//p')

echo
echo "Somebody alters record 3 in a copy of the file, taking out the trigger that refuses it:"
cp register.sqlite altered.sqlite
sqlite3 altered.sqlite "UPDATE record SET made_by = 'B. Other' WHERE number = 3" || true
sqlite3 altered.sqlite "DROP TRIGGER record_never_changes; UPDATE record SET made_by = 'B. Other' WHERE number = 3"
if "$gradus" register verify --register altered.sqlite; then
  echo "demo.sh: the altered record was not found" >&2
  exit 1
fi

echo
echo "Somebody cuts the last record off; only the hash noted elsewhere tells:"
cp register.sqlite cut.sqlite
trigger=$(sqlite3 cut.sqlite "SELECT sql FROM sqlite_master WHERE name = 'record_never_goes'")
sqlite3 cut.sqlite "DROP TRIGGER record_never_goes; DELETE FROM record WHERE number = (SELECT max(number) FROM record); $trigger"
"$gradus" register verify --register cut.sqlite >/dev/null
if "$gradus" register verify --register cut.sqlite --head "$head"; then
  echo "demo.sh: the cut record was not found" >&2
  exit 1
fi

echo
echo "The fibres of the room, measured with the factor that the register holds, and kept with it:"
"$gradus" measure ../samples/fibres --recursive --lab lab.toml --mean-within "5 %" --record --operator "A. Keeper" \
  --at "$a_week_ago" \
  --pictures fibres --csv fibres.csv --json fibres.json --report pages

echo
echo "Should that factor turn out to be wrong, these are the results to look at again:"
"$gradus" register affected wool-10x --since 2020-01-01

echo
echo "A week later: one relay lens was turned, one picture exported at half size, one put into the wrong folder."
"$gradus" check ../samples/check --recursive --lab lab.toml --record --operator "A. Keeper" \
  --json check.json --csv check.csv --report pages || [[ $? == 1 ]]
"$gradus" register history wool-10x --svg history-wool-10x.svg

echo
echo "A stand without a camera, read by eye (docs/cookbook.md has the whole session):"
sed -n '/^```toml$/,/^```$/p' ../docs/cookbook.md | sed '/^```/d' >eyepiece.toml
mkdir -p eyepiece && mv eyepiece.toml eyepiece/lab.toml
"$gradus" reticle --lab eyepiece/lab.toml --setup eyepiece-10x --record --operator "A. Keeper" 0=0 64=66 97=100 \
  --report eyepiece/pages
"$gradus" reticle size 12.5 55 --lab eyepiece/lab.toml --setup eyepiece-10x
"$gradus" reticle --table --lab eyepiece/lab.toml --page eyepiece/card.html | head -19

echo
echo "The same stand through a telephone held to its eyepiece; the reticle is the lower scale:"
"$gradus" calibrate ../samples/eyepiece/10x.jpg --division 10um --division-uncertainty "0.05 %" --reticle 100 \
  --reticle-is lower --pictures eyepiece

echo
echo "The pages of the room, to read, print and sign:"
"$gradus" report --lab lab.toml --images .. --report pages
ls pages/*.html

echo
echo "Open demo-output/pages/index.html in a browser; add --pdf to print by a Chromium on this machine."
echo "Look at demo-output/fibres: the edges where they were measured, fibre by fibre."
echo "Look at demo-output/eyepiece: both scales as they were told apart."
echo "Look at demo-output/pictures: the graduations found, their numbers and their residuals, picture by picture."
echo "The chart of the checks is demo-output/history-wool-10x.svg."
echo "The same numbers are in demo-output/calibration.csv and calibration.json, the records in register.sqlite."
