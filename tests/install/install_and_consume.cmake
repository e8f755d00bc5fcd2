# Installs the library of `build` below `work`, then configures, builds and runs the project in `source` against it.
file(REMOVE_RECURSE ${work})

function(run)
  execute_process(COMMAND ${ARGN} RESULT_VARIABLE result)
  if(NOT result EQUAL 0)
    message(FATAL_ERROR "failed: ${ARGN}")
  endif()
endfunction()

run(${CMAKE_COMMAND} --install ${build}/libscale --prefix ${work}/prefix)
run(${CMAKE_COMMAND} -S ${source} -B ${work}/build -G ${generator}
  -D CMAKE_CXX_COMPILER=${compiler} "-DCMAKE_CXX_FLAGS=${flags}" -D CMAKE_BUILD_TYPE=${build_type}
  -D CMAKE_PREFIX_PATH=${work}/prefix -D expected_version=${version})
run(${CMAKE_COMMAND} --build ${work}/build)
run(${work}/build/consumer)
