# Initial cache: address and undefined-behaviour sanitizers, as CI uses them; little optimisation, for quick builds.
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -g1" CACHE STRING "")
set(DUSKLINE_SANITIZE ON CACHE BOOL "")
