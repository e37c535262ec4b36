# Builds the page of the training console in the build tree (npm, exact versions from the lock file) and embeds it.
set(CONSOLE_SOURCE ${CMAKE_CURRENT_LIST_DIR})
set(CONSOLE_BUILD ${CMAKE_CURRENT_BINARY_DIR}/console-page)
file(GLOB console_sources CONFIGURE_DEPENDS ${CONSOLE_SOURCE}/src/*.ts ${CONSOLE_SOURCE}/src/*.tsx ${CONSOLE_SOURCE}/src/*.css)
file(GLOB shared_sources CONFIGURE_DEPENDS ${PAGE_SOURCE}/src/*.js ${PAGE_SOURCE}/src/palette.css)
file(MAKE_DIRECTORY ${CONSOLE_BUILD})
# The type checker and the browser's driver are installed for tests alone.
set(npm_without_tests $<$<NOT:$<BOOL:${BUILD_TESTING}>>:--omit=dev>)

add_custom_command(
  OUTPUT ${CONSOLE_BUILD}/installed
  COMMAND ${CMAKE_COMMAND} -E copy ${CONSOLE_SOURCE}/package.json ${CONSOLE_SOURCE}/package-lock.json
          ${CONSOLE_SOURCE}/.npmrc ${CONSOLE_BUILD}
  COMMAND ${NPM} ci --ignore-scripts --loglevel=error ${npm_without_tests}
  COMMAND ${CMAKE_COMMAND} -E touch ${CONSOLE_BUILD}/installed
  DEPENDS ${CONSOLE_SOURCE}/package.json ${CONSOLE_SOURCE}/package-lock.json ${CONSOLE_SOURCE}/.npmrc
  WORKING_DIRECTORY ${CONSOLE_BUILD}
  COMMENT "Fetching the libraries of the console page" VERBATIM COMMAND_EXPAND_LISTS)

add_custom_command(
  OUTPUT ${CONSOLE_BUILD}/console.js ${CONSOLE_BUILD}/console.css
  COMMAND ${CMAKE_COMMAND} -E env NODE_PATH=${CONSOLE_BUILD}/node_modules
          ${CONSOLE_BUILD}/node_modules/.bin/esbuild console=${CONSOLE_SOURCE}/src/main.ts --bundle --minify --format=esm
          --charset=utf8 --target=es2021 --jsx=automatic --jsx-import-source=preact --log-level=warning
          --outdir=${CONSOLE_BUILD}
  DEPENDS ${CONSOLE_BUILD}/installed ${console_sources} ${shared_sources}
  WORKING_DIRECTORY ${CONSOLE_BUILD}
  COMMENT "Bundling the console page" VERBATIM)

configure_file(${CONSOLE_SOURCE}/page_files.S.in ${CONSOLE_BUILD}/page_files.S @ONLY)
set_source_files_properties(${CONSOLE_BUILD}/page_files.S PROPERTIES
  OBJECT_DEPENDS "${CONSOLE_SOURCE}/index.html;${CONSOLE_SOURCE}/icon.svg;${CONSOLE_BUILD}/console.js;${CONSOLE_BUILD}/console.css;${CONSOLE_BUILD}/installed")
target_sources(duskline_train PRIVATE ${CONSOLE_BUILD}/page_files.S)
