# The Mustache engine is one header without a CMake config. Defines Mustache::mustache.
find_path(Mustache_INCLUDE_DIR kainjow/mustache.hpp)
include(FindPackageHandleStandardArgs)
find_package_handle_standard_args(Mustache REQUIRED_VARS Mustache_INCLUDE_DIR)
mark_as_advanced(Mustache_INCLUDE_DIR)
if(Mustache_FOUND AND NOT TARGET Mustache::mustache)
  add_library(Mustache::mustache INTERFACE IMPORTED)
  set_target_properties(Mustache::mustache PROPERTIES INTERFACE_INCLUDE_DIRECTORIES "${Mustache_INCLUDE_DIR}")
endif()
