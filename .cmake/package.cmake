# Initial cache: what a Debian package is made of, for any machine of the same kind.
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(DUSKLINE_NATIVE OFF CACHE BOOL "")
set(DUSKLINE_MPI OFF CACHE BOOL "")  # a package that asks for no MPI
