# Debian packages by purpose; sourced by demo.sh and test.sh. libopencv-imgproc-dev also comes with libopencv-dev.
# shellcheck shell=bash disable=SC2034
build_packages=(
  g++ cmake ninja-build pkg-config
  libopencv-imgproc-dev libeigen3-dev libboost-dev libtbb-dev libexpected-dev
  libjpeg-dev libpng-dev libtiff-dev libexif-dev libpugixml-dev libstb-dev
  libcli11-dev nlohmann-json3-dev libtomlplusplus-dev
  libsqlitecpp-dev libsqlite3-dev libssl-dev
)
demo_packages=(sqlite3)
test_packages=(doctest-dev libbenchmark-dev python3-skimage chromium fonts-dejavu-core)
node_packages=(nodejs npm)  # only where there is no node yet
