# cmake -DCOMPILER=... -DFLAGS=... -DSTANDARD=... -DINCLUDE=... [-DBOOST_INCLUDE=...] -DSOURCE=... -DTWIN=good|mistake -P check.cmake
# Fails unless the good twin compiles, or the mistake fails with the first error that the file states.

# message(FATAL_ERROR) would wrap the lines of the compiler.
function(complain text)
    message(NOTICE "${text}")
    message(FATAL_ERROR "compile-fail check failed")
endfunction()

set(ENV{LC_ALL} C)
separate_arguments(FLAGS UNIX_COMMAND "${FLAGS}")
set(command ${COMPILER} ${FLAGS} ${STANDARD} -fsyntax-only -fdiagnostics-color=never -I${INCLUDE})
if(BOOST_INCLUDE)
    list(APPEND command -I${BOOST_INCLUDE})
endif()
if(TWIN STREQUAL "mistake")
    list(APPEND command -DMISTAKE)
elseif(NOT TWIN STREQUAL "good")
    complain("TWIN is '${TWIN}', expected good or mistake")
endif()

execute_process(COMMAND ${command} ${SOURCE} RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE output)

if(TWIN STREQUAL "good")
    if(NOT result STREQUAL "0")
        complain("${SOURCE}: the good twin does not compile (${result})\n${output}")
    endif()
    return()
endif()

file(STRINGS "${SOURCE}" stated REGEX "^// first error: " LIMIT_COUNT 1)
if(NOT stated)
    complain("${SOURCE}: no line \"// first error: ...\"")
endif()
string(REPLACE "// first error: " "" stated "${stated}")

if(result STREQUAL "0")
    complain("${SOURCE}: the mistake compiles")
endif()
if(NOT output MATCHES "[^\n]*error: [^\n]*")
    complain("${SOURCE}: the compiler failed without an error (${result})\n${output}")
endif()
set(first "${CMAKE_MATCH_0}")
if(NOT first MATCHES "error: .*(${stated})")
    complain("${SOURCE}: the first error is another\nexpected: ${stated}\nfound: ${first}\n\n${output}")
endif()
