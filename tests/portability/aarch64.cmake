# Debian's cross compiler; libraries and headers come from the folder that CMAKE_FIND_ROOT_PATH names, programs run under qemu-user.
set(CMAKE_SYSTEM_NAME Linux)
set(CMAKE_SYSTEM_PROCESSOR aarch64)
set(CMAKE_CXX_COMPILER aarch64-linux-gnu-g++)
set(CMAKE_LIBRARY_ARCHITECTURE aarch64-linux-gnu)
# Notes on Boost and on what C++14 passed otherwise; what is emulated repeats less, see tests/slow_build.hpp.
set(CMAKE_CXX_FLAGS_INIT "-Wno-psabi -DPLUMBLINE_SLOW_BUILD")
set(CMAKE_FIND_ROOT_PATH_MODE_PROGRAM NEVER)
set(CMAKE_FIND_ROOT_PATH_MODE_LIBRARY ONLY)
set(CMAKE_FIND_ROOT_PATH_MODE_INCLUDE ONLY)
set(CMAKE_FIND_ROOT_PATH_MODE_PACKAGE ONLY)
set(CMAKE_CROSSCOMPILING_EMULATOR qemu-aarch64 -L /usr/aarch64-linux-gnu -E
                                  "LD_LIBRARY_PATH=${CMAKE_FIND_ROOT_PATH}/usr/lib/aarch64-linux-gnu")
