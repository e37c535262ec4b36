// The page of the training console: its types, its size, that it fetches nothing from elsewhere, and that it knows no
// plant. What it does with a plant in a browser is in console_browser_test.cpp.
#include <catch2/catch.hpp>
#include <cstdlib>

#include "controller/include/controller.h"
#include "hil-harness/loop/words.hpp"
#include "hil-harness/train/page_files.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::harness;
using namespace duskline::tests;

namespace {

const std::string kInstalled = DUSKLINE_BINARY_DIR "/hil-harness/console-page/node_modules";

std::string file_of(std::string_view path) {
  for (const PageFile& file : page_files())
    if (file.path == path) return std::string(file.bytes);
  return "";
}

}  // namespace

TEST_CASE("The types of the console page are sound") {
  if (!std::filesystem::exists(kInstalled + "/.bin/tsc")) {
    skip("the type checker was not installed with the page's libraries");
    return;
  }
  // The checker looks for libraries above the sources, which the build keeps elsewhere.
  const Folder folder("console-types");
  const std::string page = "hil-harness/train/page";
  for (const char* part : {"/hil-harness/train/page", "/hil-harness/report/page"}) {
    std::filesystem::create_directories(folder.path() + part);
    std::filesystem::copy(DUSKLINE_SOURCE_DIR + std::string(part) + "/src", folder.path() + part + "/src",
                          std::filesystem::copy_options::recursive);
  }
  std::filesystem::copy(DUSKLINE_SOURCE_DIR "/hil-harness/train/page/tsconfig.json", folder.file(page));
  for (const char* part : {"/hil-harness/train/page", "/hil-harness/report/page"})
    std::filesystem::create_directory_symlink(kInstalled, folder.path() + part + "/node_modules");
  const auto check = [&] {
    const std::string command =
        kInstalled + "/.bin/tsc --noEmit -p " + folder.file(page) + " > " + folder.file("answer") + " 2>&1";
    return std::system(command.c_str());
  };
  const int first = check();
  INFO(bytes_of(folder.file("answer")));
  CHECK(first == 0);
  std::ofstream(folder.file(page + "/src/words.ts"), std::ios::app) << "export const n: number = \"text\";\n";
  CHECK(check() != 0);
}

TEST_CASE("The console page is at most 150 KB compressed") {
  const Folder folder("console-size");
  std::size_t bytes = 0;
  for (const char* path : {"/", "/console.js", "/console.css"}) {
    std::ofstream(folder.file("part"), std::ios::binary) << file_of(path);
    REQUIRE(std::system(("gzip -9nc " + folder.file("part") + " > " + folder.file("part.gz")).c_str()) == 0);
    bytes += std::filesystem::file_size(folder.file("part.gz"));
  }
  CHECK(bytes > 10'000);
  CHECK(bytes <= 150'000);  // issue 10
}

TEST_CASE("The console page asks no other machine, and holds no script or style in its text") {
  const std::string html = file_of("/");
  CHECK(html.find("<script type=\"module\" src=\"/console.js\"></script>") != html.npos);
  for (const char* forbidden : {"<style", " style=", " onload=", "javascript:", "http:", "https:", "//"})
    CHECK(html.find(forbidden) == html.npos);
  CHECK(file_of("/console.css").find("url(") == std::string::npos);
  CHECK(file_of("/console.css").find("@import") == std::string::npos);
  const std::string js = file_of("/console.js");
  for (std::size_t at = js.find("://"); at != js.npos; at = js.find("://", at + 1))
    CHECK(js.substr(at + 3, 11) == "www.w3.org/");  // names of SVG and MathML
  CHECK(file_of("/licences.txt").find("preact") != std::string::npos);
}

TEST_CASE("The console page names no instrument, command or alarm of a plant") {
  const std::string js = file_of("/console.js");
#define DUSKLINE_NAME(name, ...) #name,
  for (const std::string name :
       {CTL_INPUT_LIST(DUSKLINE_NAME, DUSKLINE_NAME) CTL_OUTPUT_LIST(DUSKLINE_NAME, DUSKLINE_NAME)})
    CHECK(js.find(name) == js.npos);
#undef DUSKLINE_NAME
  for (const ListWord& alarm : alarm_words()) CHECK(js.find(alarm.word) == js.npos);
}
