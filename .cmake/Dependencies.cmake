# Finds what the build needs. All that is missing is named at once, each with its Debian package, before anything is compiled.
set(plumbline_missing "")

# A macro: imported targets belong to the folder that calls it.
macro(plumbline_need name debian_package)
  find_package(${name} QUIET ${ARGN})
  if(NOT ${name}_FOUND)
    string(APPEND plumbline_missing "  ${name}: install ${debian_package}\n")
  endif()
endmacro()

plumbline_need(Boost libboost-dev)
plumbline_need(fmt libfmt-dev)
plumbline_need(nlohmann_json nlohmann-json3-dev)
plumbline_need(Sodium libsodium-dev)
plumbline_need(Mustache libkainjow-mustache-dev)
if(PLUMBLINE_BUILD_EXAMPLES)
  plumbline_need(CLI11 libcli11-dev)
endif()
if(PLUMBLINE_BUILD_TESTS)
  plumbline_need(Threads libc6-dev)
  plumbline_need(doctest doctest-dev)
  plumbline_need(rapidcheck librapidcheck-dev)
  plumbline_need(valijson libvalijson-dev)
endif()

if(plumbline_missing)
  message(FATAL_ERROR "Plumbline cannot be configured, this is missing:\n${plumbline_missing}")
endif()
