# Warnings as one INTERFACE target, so that consumers of the installed library never inherit them.
add_library(gradus_warnings INTERFACE)
target_compile_options(gradus_warnings INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wnon-virtual-dtor -Wold-style-cast -Wcast-align
  -Woverloaded-virtual -Wconversion -Wno-sign-conversion -Wdouble-promotion -Wformat=2 -Wimplicit-fallthrough)
if(GRADUS_DEVELOPER_MODE)
  target_compile_options(gradus_warnings INTERFACE -Werror)
endif()
