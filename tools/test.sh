#!/usr/bin/env bash
# Builds everything with warnings as errors and runs every test. ctest's closing line is the last of the output.
set -euo pipefail
cd "$(dirname "$0")/.."

# shellcheck source=tools/packages.sh
source tools/packages.sh
tools/install-packages.sh "${build_packages[@]}" "${test_packages[@]}"
cmake --preset dev >/dev/null
cmake --build --preset dev --parallel "$(nproc)"
exec ctest --preset dev --parallel "$(nproc)"
