# Runs check.cmake on a control and fails unless check.cmake fails with COMPLAINT.

set(arguments "")
foreach(name IN ITEMS COMPILER FLAGS SOURCE TWIN PAGE ON_PAGE)
    list(APPEND arguments "-D${name}=${${name}}")
endforeach()
execute_process(COMMAND ${CMAKE_COMMAND} ${arguments} -P ${CMAKE_CURRENT_LIST_DIR}/check.cmake
                RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE output)
string(FIND "${output}" "${COMPLAINT}" at)
if(result STREQUAL "0" OR at EQUAL -1)
    message(FATAL_ERROR "${SOURCE}: the harness should have failed with: ${COMPLAINT}\nits result: ${result}\n${output}")
endif()
