# cmake -DPAGE=... -DCASES=... -P page.cmake
# Fails if the page names a case that is not there, or one twice. That each case is on the page is checked where it is compiled.

cmake_policy(SET CMP0057 NEW)  # IN_LIST
file(READ "${PAGE}" page)
string(REGEX MATCHALL "\nShown by [^.]*\\." lists "${page}")
string(REGEX MATCHALL "`[^`]*`" names "${lists}")
if(NOT names)
    message(FATAL_ERROR "${PAGE}: no line \"Shown by `case`, `case`.\"")
endif()
set(seen "")
foreach(name IN LISTS names)
    string(REPLACE "`" "" name "${name}")
    if(NOT EXISTS "${CASES}/${name}.cpp")
        message(SEND_ERROR "${PAGE}: names ${name}, which is no case of ${CASES}")
    endif()
    if(name IN_LIST seen)
        message(SEND_ERROR "${PAGE}: names ${name} twice")
    endif()
    list(APPEND seen ${name})
endforeach()
