#!/usr/bin/env bash
# Builds gradus and calibrates the sample pictures; leaves the tables and the marked pictures in demo-output/.
set -euo pipefail
cd "$(dirname "$0")/.."

# shellcheck source=tools/packages.sh
source tools/packages.sh
tools/install-packages.sh "${build_packages[@]}"
cmake --preset release >/dev/null
cmake --build --preset release --parallel "$(nproc)" --target gradus

rm -rf demo-output
mkdir -p demo-output
build/release/tools/gradus/gradus calibrate samples/calibration --recursive --division 10um \
  --pictures demo-output/pictures --csv demo-output/calibration.csv --json demo-output/calibration.json

echo
echo "Look at demo-output/pictures: the graduations found, their numbers and their residuals, picture by picture."
echo "The same numbers are in demo-output/calibration.csv and demo-output/calibration.json."
