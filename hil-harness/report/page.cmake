# Builds the page of the report in the build tree (npm, exact versions from the lock file) and embeds it.
enable_language(ASM)
find_program(NPM npm REQUIRED)
set(PAGE_SOURCE ${CMAKE_CURRENT_LIST_DIR}/page)
set(PAGE_BUILD ${CMAKE_CURRENT_BINARY_DIR}/report-page)
file(GLOB page_sources CONFIGURE_DEPENDS ${PAGE_SOURCE}/src/*.js ${PAGE_SOURCE}/src/*.css)

add_custom_command(
  OUTPUT ${PAGE_BUILD}/installed
  COMMAND ${CMAKE_COMMAND} -E copy ${PAGE_SOURCE}/package.json ${PAGE_SOURCE}/package-lock.json
          ${PAGE_SOURCE}/.npmrc ${PAGE_BUILD}
  COMMAND ${NPM} ci --ignore-scripts --loglevel=error
  COMMAND ${CMAKE_COMMAND} -E touch ${PAGE_BUILD}/installed
  DEPENDS ${PAGE_SOURCE}/package.json ${PAGE_SOURCE}/package-lock.json ${PAGE_SOURCE}/.npmrc
  WORKING_DIRECTORY ${PAGE_BUILD}
  COMMENT "Fetching the plotting library of the report page" VERBATIM)
file(MAKE_DIRECTORY ${PAGE_BUILD})

add_custom_command(
  OUTPUT ${PAGE_BUILD}/page.js ${PAGE_BUILD}/page.css
  COMMAND ${CMAKE_COMMAND} -E env NODE_PATH=${PAGE_BUILD}/node_modules
          ${PAGE_BUILD}/node_modules/.bin/esbuild ${PAGE_SOURCE}/src/page.js --bundle --minify --format=iife
          --charset=utf8 --target=es2021 --log-level=warning --outfile=${PAGE_BUILD}/page.js
  DEPENDS ${PAGE_BUILD}/installed ${page_sources}
  WORKING_DIRECTORY ${PAGE_BUILD}
  COMMENT "Bundling the report page" VERBATIM)

# The other pages share the style of the report.
foreach(page linear compare)
  add_custom_command(
    OUTPUT ${PAGE_BUILD}/${page}.js
    COMMAND ${CMAKE_COMMAND} -E env NODE_PATH=${PAGE_BUILD}/node_modules
            ${PAGE_BUILD}/node_modules/.bin/esbuild ${PAGE_SOURCE}/src/${page}.js --bundle --minify --format=iife
            --charset=utf8 --target=es2021 --log-level=warning --outfile=${PAGE_BUILD}/${page}.js
    DEPENDS ${PAGE_BUILD}/installed ${page_sources}
    WORKING_DIRECTORY ${PAGE_BUILD}
    COMMENT "Bundling the page ${page}" VERBATIM)
endforeach()

configure_file(${CMAKE_CURRENT_LIST_DIR}/page_assets.S.in ${PAGE_BUILD}/page_assets.S @ONLY)
set_source_files_properties(${PAGE_BUILD}/page_assets.S PROPERTIES
  OBJECT_DEPENDS "${PAGE_SOURCE}/index.html;${PAGE_BUILD}/page.js;${PAGE_BUILD}/linear.js;${PAGE_BUILD}/compare.js;${PAGE_BUILD}/page.css;${PAGE_BUILD}/installed")
target_sources(duskline_report PRIVATE ${PAGE_BUILD}/page_assets.S)
