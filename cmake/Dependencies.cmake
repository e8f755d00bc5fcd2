# OpenCV's CMake config ships only in Debian's libopencv-dev (421 packages); core and imgproc alone come
# without it. Both packages put the headers and the two libraries in the same places, so find those.
find_path(OpenCV_HEADERS opencv2/imgproc.hpp PATH_SUFFIXES opencv4 REQUIRED)
find_library(OpenCV_CORE opencv_core REQUIRED)
find_library(OpenCV_IMGPROC opencv_imgproc REQUIRED)
add_library(gradus_opencv INTERFACE)
target_include_directories(gradus_opencv SYSTEM INTERFACE "${OpenCV_HEADERS}")
target_link_libraries(gradus_opencv INTERFACE "${OpenCV_IMGPROC}" "${OpenCV_CORE}")

find_package(PkgConfig REQUIRED)
pkg_check_modules(EIGEN3 REQUIRED IMPORTED_TARGET eigen3)
find_package(TBB REQUIRED)
find_package(Boost 1.74 REQUIRED)
find_path(EXPECTED_HEADERS tl/expected.hpp REQUIRED)
find_path(TOMLPLUSPLUS_HEADERS toml++/toml.h REQUIRED)
find_package(SQLiteCpp REQUIRED)
find_package(OpenSSL REQUIRED COMPONENTS Crypto)
find_package(nlohmann_json REQUIRED)
