// The Debian package: what is in it, what it depends on, and that the program runs from where it is unpacked, with an empty
// environment. Source: what hil-harness/CMakeLists.txt installs, docs/quickstart.md.
#include <catch2/catch.hpp>
#include <filesystem>

#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

TEST_CASE("The Debian package names what it depends on, and runs from where it is unpacked") {
  if (!duskline::test::has_program("dpkg-shlibdeps")) {
    skip("dpkg-dev is not installed, no Debian package was made");
    return;
  }
  const Folder here{"package"};
  const Child packed =
      run_child("cpack", {"--config", DUSKLINE_BINARY_DIR "/CPackConfig.cmake", "-B", here.path()});
  INFO(packed.out << packed.err);
  REQUIRE(packed.exit_code == 0);
  std::string package;
  for (const auto& entry : fs::directory_iterator{here.path()})
    if (entry.path().extension() == ".deb") package = entry.path().string();
  REQUIRE(package != "");
  CHECK(run_child("dpkg-deb", {"-f", package, "Package"}).out == "duskline\n");
  CHECK(run_child("dpkg-deb", {"-f", package, "Version"}).out == DUSKLINE_VERSION "\n");
  const std::string needs = run_child("dpkg-deb", {"-f", package, "Depends"}).out;
  INFO(needs);
  for (const char* library :
       {"libc6", "libstdc++6", "libfmt9", "libnetcdf19", "libnlopt0", "libudunits2-0", "libyaml-cpp0.7"})
    CHECK(has(needs, library));
  CHECK_FALSE(has(needs, "-dev"));

  const std::string root = here.file("root"), usr = root + "/usr";
  REQUIRE(run_child("dpkg-deb", {"-x", package, root}).exit_code == 0);
  const auto run = [&](std::vector<std::string> words) {
    words.insert(words.begin(), {"-i", usr + "/bin/duskline"});
    return run_child("env", words, {.folder = here.path()});
  };
  CHECK(run({"--version"}).out == "duskline " DUSKLINE_VERSION "\n");
  const Child ran = run(
      {"run", usr + "/share/duskline/examples/ci/scenarios/quarter-hour.yaml", "--out", here.file("out")});
  INFO(ran.out << ran.err);
  CHECK(ran.exit_code == 0);
  for (const char* name : {"trace.nc", "summary.json", "report.html"})
    CHECK(fs::exists(here.file("out") + "/" + name));
  CHECK(has(bytes_of(here.file("out") + "/report.html"), "A quarter of an hour at our site"));
  CHECK(fs::exists(usr + "/share/duskline/scenarios/library/dawn-dusk/equinox-sol.yaml"));

  const auto compiled = duskline::test::run_command(
      "gcc -std=c11 -shared -fPIC -I " + usr + "/include/duskline " + usr +
      "/share/duskline/examples/controllers/proportional.c -o " + here.file("controller.so"));
  INFO(compiled.text);
  CHECK(compiled.status == 0);
}
