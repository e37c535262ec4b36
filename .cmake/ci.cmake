# Initial cache: release build in which a warning is an error.
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(DUSKLINE_WARNINGS_AS_ERRORS ON CACHE BOOL "")
