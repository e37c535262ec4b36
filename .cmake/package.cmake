# Initial cache: what a Debian package is made of, for any machine of the same kind.
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(DUSKLINE_NATIVE OFF CACHE BOOL "")
