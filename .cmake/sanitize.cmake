# Initial cache: address and undefined-behaviour sanitizers, as CI uses them.
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(DUSKLINE_SANITIZE ON CACHE BOOL "")
