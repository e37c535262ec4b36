// The Debian package: what is in it, what it depends on, and that the program runs from where it is unpacked, with an empty
// environment. Source: what hil-harness/CMakeLists.txt installs, docs/quickstart.md.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

/// Makes the package in `here`; empty, with a skip, where its tools are missing.
std::string packed(const Folder& here) {
  if (!duskline::test::has_program("dpkg-shlibdeps")) {
    skip("dpkg-dev is not installed, no Debian package was made");
    return "";
  }
  const Child made =
      run_child("cpack", {"--config", DUSKLINE_BINARY_DIR "/CPackConfig.cmake", "-B", here.path()});
  INFO(made.out << made.err);
  REQUIRE(made.exit_code == 0);
  for (const auto& entry : fs::directory_iterator{here.path()})
    if (entry.path().extension() == ".deb") return entry.path().string();
  FAIL("no package was made");
  return "";
}

/// By root, or by a user in a name space in which he is root; with an empty environment but for the usual PATH.
Child as_root(std::vector<std::string> words) {
  words.insert(words.begin(), {"-i", "PATH=/usr/sbin:/usr/bin:/sbin:/bin"});
  if (geteuid() != 0) words.insert(words.begin() + 2, {"unshare", "--map-root-user"});
  return run_child("env", words);
}

}  // namespace

TEST_CASE(
    "The Debian package installs into an empty root, and runs there with the libraries that it asks for") {
  const Folder here{"package-root"};
  const std::string package = packed(here), root = here.file("root"), base = root + "/var/lib/dpkg";
  if (package.empty()) return;
  if (as_root({"true"}).exit_code != 0) {
    skip("nobody may be root in a name space here; the package was not installed");
    return;
  }
  for (const char* folder : {"/updates", "/info"}) fs::create_directories(base + folder);
  for (const char* file : {"/status", "/available"}) std::ofstream{base + file};
  fs::create_directories(root + "/tmp");
  // an empty root has none of the packages that it depends on; what they hold of use is put there below
  const Child installed = as_root({"dpkg", "--root=" + root, "--force-depends", "--install", package});
  INFO(installed.out << installed.err);
  REQUIRE(installed.exit_code == 0);
  CHECK(
      has(run_child("dpkg", {"--root=" + root, "--status", "duskline"}).out, "Status: install ok installed"));

  // the libraries that the program is linked with, theirs, and the loader; and the units, data of libudunits2
  const std::string program = root + "/usr/bin/duskline";
  const Child libraries = run_child("ldd", {program});
  REQUIRE(libraries.exit_code == 0);
  std::istringstream words(libraries.out);
  for (std::string word; words >> word;) {
    if (!word.starts_with("/")) continue;
    fs::create_directories(fs::path(root + word).parent_path());
    fs::copy_file(word, root + word, fs::copy_options::overwrite_existing);
  }
  fs::create_directories(root + "/usr/share/xml");
  fs::copy("/usr/share/xml/udunits", root + "/usr/share/xml/udunits", fs::copy_options::recursive);

  const Child version = as_root({"chroot", root, "/usr/bin/duskline", "--version"});
  CHECK(version.out == "duskline " DUSKLINE_VERSION "\n");
  const Child ran = as_root({"chroot", root, "/usr/bin/duskline", "run", "hour-of-oxygen", "--set",
                             "duration=5 min", "--out", "/tmp/run"});
  INFO(ran.out << ran.err);
  CHECK((ran.exit_code == 0 || ran.exit_code == 1));  // five minutes are too short for an hour of oxygen
  for (const char* name : {"trace.nc", "summary.json", "report.html"})
    CHECK(fs::exists(root + "/tmp/run/" + name));
}

TEST_CASE("The Debian package names what it depends on, and runs from where it is unpacked") {
  const Folder here{"package"};
  const std::string package = packed(here);
  if (package.empty()) return;
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
