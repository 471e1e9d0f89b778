# Configures SOURCE in BINARY with every find_package disabled and compares the whole message.
set(needed Boost fmt nlohmann_json Sodium Mustache Threads CLI11 doctest rapidcheck valijson pugixml GSL)
list(TRANSFORM needed REPLACE "(.+)" "-DCMAKE_DISABLE_FIND_PACKAGE_\\1=ON" OUTPUT_VARIABLE disabled)
file(REMOVE_RECURSE "${BINARY}")
execute_process(COMMAND "${CMAKE_COMMAND}" -S "${SOURCE}" -B "${BINARY}" -G Ninja -DCMAKE_CXX_COMPILER=${COMPILER} ${disabled}
                RESULT_VARIABLE exit_code OUTPUT_QUIET ERROR_VARIABLE message)
if(exit_code EQUAL 0)
  message(FATAL_ERROR "configured although nothing could be found")
endif()
set(expected [[
  Plumbline cannot be configured, this is missing:

    Boost: install libboost-dev
    fmt: install libfmt-dev
    nlohmann_json: install nlohmann-json3-dev
    Sodium: install libsodium-dev
    Mustache: install libkainjow-mustache-dev
    Threads: install libc6-dev
    CLI11: install libcli11-dev
    doctest: install doctest-dev
    rapidcheck: install librapidcheck-dev
    valijson: install libvalijson-dev
    pugixml: install libpugixml-dev
    GSL: install libgsl-dev
]])
string(FIND "${message}" "${expected}" place)
if(place EQUAL -1)
  message(FATAL_ERROR "expected\n${expected}\nfound\n${message}")
endif()
