# Two components, each installed and packaged by itself:
#   embedded  the headers for firmware, and the CMake package as far as it concerns them
#   dev       the host library, its headers, the rest of the CMake package, the pkg-config file; needs embedded
# A shared library (BUILD_SHARED_LIBS) is a component of its own, runtime.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)
set(package_dir "${CMAKE_INSTALL_LIBDIR}/cmake/plumbline")
set(headers "${PROJECT_SOURCE_DIR}/include/plumbline")

install(DIRECTORY "${headers}/embedded" DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}/plumbline" COMPONENT embedded)
install(FILES "${PROJECT_SOURCE_DIR}/src/embedded/plumbline_embedded.cpp" DESTINATION "${CMAKE_INSTALL_DATADIR}/plumbline" COMPONENT embedded)
install(DIRECTORY "${headers}" DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}" COMPONENT dev
        PATTERN embedded EXCLUDE PATTERN "*.in" EXCLUDE)
install(FILES "${PROJECT_BINARY_DIR}/include/plumbline/version.hpp" DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}/plumbline" COMPONENT dev)

set_target_properties(plumbline_embedded PROPERTIES EXPORT_NAME embedded)
install(TARGETS plumbline_embedded EXPORT embedded INCLUDES DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}")
install(TARGETS plumbline EXPORT host INCLUDES DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}"
        ARCHIVE COMPONENT dev
        LIBRARY COMPONENT runtime NAMELINK_COMPONENT dev)
install(EXPORT embedded FILE plumbline-embedded.cmake NAMESPACE plumbline:: DESTINATION "${package_dir}" COMPONENT embedded)
install(EXPORT host FILE plumbline-host.cmake NAMESPACE plumbline:: DESTINATION "${package_dir}" COMPONENT dev)

configure_package_config_file("${PROJECT_SOURCE_DIR}/.cmake/plumbline-config.cmake.in" "${PROJECT_BINARY_DIR}/plumbline-config.cmake"
                              INSTALL_DESTINATION "${package_dir}" NO_SET_AND_CHECK_MACRO)
write_basic_package_version_file("${PROJECT_BINARY_DIR}/plumbline-config-version.cmake" COMPATIBILITY SameMinorVersion)
install(FILES "${PROJECT_BINARY_DIR}/plumbline-config.cmake" "${PROJECT_BINARY_DIR}/plumbline-config-version.cmake"
        DESTINATION "${package_dir}" COMPONENT embedded)

if(BUILD_SHARED_LIBS)
  set(private_libraries Libs.private)
else()
  set(private_libraries Libs)
endif()
# Written when it is installed: only then is the prefix known.
file(CONFIGURE OUTPUT "${PROJECT_BINARY_DIR}/write_pc.cmake" CONTENT [[
file(WRITE "$ENV{DESTDIR}${CMAKE_INSTALL_PREFIX}/@CMAKE_INSTALL_LIBDIR@/pkgconfig/plumbline.pc"
"prefix=${CMAKE_INSTALL_PREFIX}
libdir=\${prefix}/@CMAKE_INSTALL_LIBDIR@
includedir=\${prefix}/@CMAKE_INSTALL_INCLUDEDIR@

Name: plumbline
Description: @PROJECT_DESCRIPTION@
Version: @PROJECT_VERSION@
Cflags: -I\${includedir}
Libs: -L\${libdir} -lplumbline
@private_libraries@: -lfmt -lsodium
")]] @ONLY)
install(SCRIPT "${PROJECT_BINARY_DIR}/write_pc.cmake" COMPONENT dev)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME plumbline)
set(CPACK_PACKAGE_CONTACT "the Plumbline project <plumbline@localhost>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "${PROJECT_DESCRIPTION}")
set(CPACK_RESOURCE_FILE_LICENSE "${PROJECT_SOURCE_DIR}/LICENSE")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL dev embedded)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_DEV_PACKAGE_NAME libplumbline-dev)
set(CPACK_DEBIAN_DEV_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEV_PACKAGE_DEPENDS "plumbline-embedded (= ${PROJECT_VERSION}), libboost-dev, libfmt-dev, libsodium-dev")
set(CPACK_DEBIAN_EMBEDDED_PACKAGE_NAME plumbline-embedded)
set(CPACK_DEBIAN_EMBEDDED_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_EMBEDDED_PACKAGE_ARCHITECTURE all)
set(CPACK_DEBIAN_EMBEDDED_DESCRIPTION "Corrections and their plus-or-minus in an instrument's own memory: headers for firmware")
if(BUILD_SHARED_LIBS)
  list(APPEND CPACK_COMPONENTS_ALL runtime)
  set(CPACK_DEBIAN_RUNTIME_PACKAGE_NAME libplumbline0)
  set(CPACK_DEBIAN_RUNTIME_PACKAGE_SHLIBDEPS ON)
  set(CPACK_DEBIAN_DEV_PACKAGE_DEPENDS "libplumbline0 (= ${PROJECT_VERSION}), plumbline-embedded (= ${PROJECT_VERSION}), libboost-dev")
endif()
include(CPack)
