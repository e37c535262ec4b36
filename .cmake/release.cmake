# Initial cache: optimised build, as quickstart uses it.
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
