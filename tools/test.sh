#!/usr/bin/env bash
# Builds everything with warnings as errors and runs every test. ctest's closing line is the last of the output.
set -euo pipefail
cd "$(dirname "$0")/.."

# shellcheck source=tools/packages.sh
source tools/packages.sh
tools/install-packages.sh "${build_packages[@]}" "${test_packages[@]}"
if ! command -v node >/dev/null || ! command -v npm >/dev/null; then tools/install-packages.sh "${node_packages[@]}"; fi
# What the browser tests need, as the lock file names it; nothing is asked of the network when it is there.
npm ls --prefix tests/browser >/dev/null 2>&1 || npm ci --prefix tests/browser --no-audit --no-fund
cmake --preset dev >/dev/null
cmake --build --preset dev --parallel "$(nproc)"
exec ctest --preset dev --parallel "$(nproc)"
