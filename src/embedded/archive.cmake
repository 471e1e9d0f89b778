# Makes the folder plumbline/embedded and its C functions into a library archive for the Arduino tools:
# OUTPUT/plumbline-embedded-VERSION.zip.
#   cmake -DSOURCE=<top folder> -DVERSION=<x.y.z> -DOUTPUT=<folder> -P archive.cmake
# The form (library.properties, everything compiled from src/) is that of the Arduino library specification, from memory.
foreach(needed IN ITEMS SOURCE VERSION OUTPUT)
  if(NOT DEFINED ${needed})
    message(FATAL_ERROR "archive.cmake: say -D${needed}=...")
  endif()
endforeach()

set(library "${OUTPUT}/Plumbline")
file(REMOVE_RECURSE "${library}")
file(COPY "${SOURCE}/include/plumbline/embedded" DESTINATION "${library}/src/plumbline")
file(COPY "${SOURCE}/src/embedded/plumbline_embedded.cpp" DESTINATION "${library}/src")
file(COPY "${SOURCE}/LICENSE" DESTINATION "${library}")
file(WRITE "${library}/src/Plumbline.h" "#pragma once
// All of the embedded part of Plumbline; firmware in C includes plumbline/embedded/plumbline_embedded.h instead.
#include \"plumbline/embedded/block.hpp\"
#include \"plumbline/embedded/image.hpp\"
#include \"plumbline/embedded/store.hpp\"
#include \"plumbline/embedded/words.h\"
")
file(WRITE "${library}/library.properties" "name=Plumbline
version=${VERSION}
author=The Plumbline authors
maintainer=The Plumbline authors
sentence=The stored adjustment of a home-built instrument, and its plus-or-minus.
paragraph=Correction in fixed point, expanded uncertainty, the image of a record, and a store in flash that survives power cuts.
category=Data Processing
architectures=*
includes=Plumbline.h
")
set(archive "plumbline-embedded-${VERSION}.zip")
execute_process(COMMAND "${CMAKE_COMMAND}" -E tar cf "${archive}" --format=zip Plumbline
                WORKING_DIRECTORY "${OUTPUT}" COMMAND_ERROR_IS_FATAL ANY)
message(STATUS "${OUTPUT}/${archive}")
