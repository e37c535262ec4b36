// Controllers of the user's own: the examples of docs/how-to make oxygen, our controller behind the same door gives
// the same bytes, and what is wrong with a file is said.
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstddef>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "controller/include/controller.h"
#include "hil-harness/links/plugin.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline::tests;
using duskline::test::controller_sources;
using duskline::test::run_command;
namespace fs = std::filesystem;

namespace {

const std::string kExamples = DUSKLINE_SOURCE_DIR "/docs/how-to/controllers/";
const std::string kShared = " -O2 -fPIC -shared -ffp-contract=off -I " DUSKLINE_SOURCE_DIR " ";

/// Compiles a shared object; strict warnings are errors.
void build(const std::string& compiler, const std::string& sources, const std::string& out) {
  const auto built = run_command(compiler + " -Wall -Wextra -pedantic -Wshadow -Wconversion -Werror" +
                                 kShared + sources + " -o '" + out + "' -lm");
  INFO(built.text);
  REQUIRE(built.status == 0);
}

/// A plug-in from a few lines of C around a controller that does nothing.
std::string made(const Folder& folder, const std::string& name, const std::string& step,
                 const std::string& version = "CTL_ABI_VERSION", const std::string& init = "CTL_OK") {
  const std::string source = folder.file(name + ".c");
  std::ofstream{source}
      << "#include <fenv.h>\n#include <math.h>\n#include <signal.h>\n#include <stdlib.h>\n#include "
         "<time.h>\n#include "
         "<unistd.h>\n#include \"controller/include/controller.h\"\n"
      << "uint32_t ctl_abi_version(void) { return " << version << "; }\n"
      << "ctl_status ctl_init(ctl_state* s, const ctl_params* p) { (void)s; (void)p; return " << init
      << "; }\n"
      << "ctl_status ctl_step(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* "
         "out) { (void)s; (void)p; (void)in; (void)out; "
      << step << " }\n";
  build("gcc -std=c11 -D_POSIX_C_SOURCE=200809L", "'" + source + "'", folder.file(name + ".so"));
  return folder.file(name + ".so");
}

std::string scenario_of(const Folder& folder, const std::string& duration = "30 min") {
  std::ofstream{folder.file("hot.yaml")}
      << "format: duskline-scenario/1\ntitle: Hot half hour\nplant: bench\nseed: 3\n"
         "duration: "
      << duration
      << "\nrecord: 10 s\nstart: {season: 150 deg, local_time: 10 h}\n"
         "initial: {state: producing, stack_temperature: 800 degC, cathode_co: "
         "65 %}\ncommands:\n  - {at: 0 s, mode: production, demand: 8 g/h}\n";
  return folder.file("hot.yaml");
}

nlohmann::json figures_of(const std::string& folder) {
  return nlohmann::json::parse(bytes_of(folder + "/summary.json"))["key_figures"];
}

}  // namespace

TEST_CASE("the examples in C and C++ compile strictly, and make oxygen without coke") {
  const Folder here{"plugin-examples"};
  build("gcc -std=c11", kExamples + "proportional.c", here.file("proportional.so"));
  build("g++ -std=c++20", kExamples + "margin_keeper.cpp", here.file("margin_keeper.so"));
  const std::string scenario = scenario_of(here);
  for (const std::string name : {"proportional", "margin_keeper"}) {
    const Child child = run_duskline({"run", scenario, "--link", "plugin:" + here.file(name + ".so"), "--out",
                                      here.file(name), "--quiet"});
    INFO(name << ": " << child.err);
    CHECK(child.exit_code == 0);
    const auto figures = figures_of(here.file(name));
    INFO(figures.dump(1));
    CHECK(figures["oxygen_made_in_production"]["value"].get<double>() >
          0.9 * 4e-3);  // of 8 g/h for half an hour
    CHECK(figures["min_coke_margin"]["value"].get<double>() > 0.0);
    CHECK(figures["time_below_coke_margin"]["value"] == 0.0);
    CHECK(figures["min_nickel_ratio"]["value"].get<double>() > 1.0);
    CHECK(figures["greatest_ramp"]["value"].get<double>() <
          10.0);  // K/min, ramp_trip of the controller's table
  }
}

TEST_CASE("our controller as a plug-in gives the bytes of the one inside, and the summary says who it was") {
  const Folder here{"plugin-ours"};
  std::string sources;
  for (const std::string& source : controller_sources()) sources += source + " ";
  build("g++ -std=c++20 -ffreestanding -fno-math-errno -fno-exceptions -fno-rtti", sources,
        here.file("ours.so"));
  const std::string scenario = scenario_of(here);
  for (const std::string law : {"cascade", "fixed", "adaptive"}) {
    INFO(law);
    const std::vector<std::string> common{
        "--set",   "controller.law=" + law,
        "--set",   "controller.table=[{at: 0 s, speed: 300 rad/s, current: 3 A}]",
        "--quiet", "--force"};
    std::vector<std::string> inside{"run", scenario, "--out", here.file("inside")},
        outside{"run", scenario, "--out", here.file("outside"), "--link", "plugin:" + here.file("ours.so")};
    inside.insert(inside.end(), common.begin(), common.end());
    outside.insert(outside.end(), common.begin(), common.end());
    const Child one = run_duskline(inside), two = run_duskline(outside);
    INFO(one.err << two.err);
    REQUIRE(one.exit_code == 0);
    REQUIRE(two.exit_code == 0);
    const std::string trace = bytes_of(here.file("inside/trace.nc"));
    CHECK(trace.size() > 10000);
    CHECK((trace == bytes_of(here.file("outside/trace.nc"))));
    CHECK((figures_of(here.file("inside")) == figures_of(here.file("outside"))));
  }
  const auto summary = nlohmann::json::parse(bytes_of(here.file("outside/summary.json")));
  CHECK(summary["controller"]["is"] == "plug-in ours.so");
  CHECK_FALSE(nlohmann::json::parse(bytes_of(here.file("inside/summary.json"))).contains("controller"));
  CHECK(has(bytes_of(here.file("outside/report.html")), "plug-in ours.so"));
  CHECK_FALSE(has(bytes_of(here.file("outside/summary.json")), here.path()));
  CHECK_FALSE(has(bytes_of(here.file("outside/report.html")), here.path()));
  const Child text = run_duskline({"run", scenario, "--set", "duration=1 min", "--link", "plugin:./ours.so",
                                   "--out", here.file("text"), "--compare", "cascade"},
                                  {.folder = here.path()});
  CHECK(text.exit_code == 0);
  CHECK(has(text.out, "Hot half hour (plug-in ours.so)\n"));
  CHECK(has(text.out, "Hot half hour (law cascade)\n"));  // the compared run is under ours
}

TEST_CASE("a plug-in that describes its memory is linearized, ours gives the files of the one inside") {
  const Folder here{"plugin-linear"};
  const std::string scenario = scenario_of(here);
  std::string sources;
  for (const std::string& source : controller_sources()) sources += source + " ";
  build("g++ -std=c++20 -ffreestanding -fno-math-errno -fno-exceptions -fno-rtti", sources,
        here.file("ours.so"));
  const auto linearize = [&](const std::string& out, const std::string& link) {
    return run_duskline(
        {"linearize", scenario, "--at", "20 min", "--quiet", "--out", here.file(out), "--link", link});
  };
  REQUIRE(linearize("inside", "in-process").exit_code == 0);
  REQUIRE(linearize("outside", "plugin:" + here.file("ours.so")).exit_code == 0);
  const std::string inside = bytes_of(here.file("inside/linear.json"));
  CHECK(nlohmann::json::parse(inside)["loops"].size() >= 6);  // one a command at least
  CHECK((inside == bytes_of(here.file("outside/linear.json"))));

  build("gcc -std=c11", kExamples + "proportional.c", here.file("proportional.so"));
  REQUIRE(linearize("example", "plugin:" + here.file("proportional.so")).exit_code == 0);
  const auto controller = nlohmann::json::parse(bytes_of(here.file("example/linear.json")))["controller"];
  // of its three numbers, current and speed follow the readings within a tick, without a limit of rate in the way
  REQUIRE(controller["states"].size() == 1);
  CHECK(controller["states"][0]["name"] == "controller.heat");
  CHECK(controller["A"][0][0].get<double>() == Approx(1.0).epsilon(1e-3));  // an integrator of the cold
  std::size_t zone = 0;
  while (controller["inputs"][zone]["name"] != "zone_temperature[1]") ++zone;
  // source: proportional.c, heat += period/600 s (setpoint - mean of the zones)
  CHECK(controller["B"][0][zone].get<double>() == Approx(-1.0 / 600.0 / CTL_ZONES).epsilon(0.02));

  const Child none = linearize("none", "plugin:" + made(here, "mine", "return CTL_OK;"));
  CHECK(none.exit_code == 2);
  CHECK(
      has(none.err,
          "it does not say what its state consists of; a linear model needs the function ctl_state_layout"));
  CHECK_FALSE(fs::exists(here.file("none")));
}

TEST_CASE("a file that is no controller is refused with the reason, and nothing is written") {
  const Folder here{"plugin-wrong"};
  const std::string scenario = scenario_of(here, "1 min");
  made(here, "mine", "return CTL_OK;");
  made(here, "old", "return CTL_OK;", "CTL_ABI_VERSION - 1");
  made(here, "picky", "return CTL_OK;", "CTL_ABI_VERSION", "CTL_BAD_PARAMETER");
  std::ofstream{here.file("nothing.c")} << "int ctl_step(void);\nint ctl_step(void) { return 0; }\n";
  build("gcc -std=c11", "'" + here.file("nothing.c") + "'", here.file("nothing.so"));
  std::ofstream{here.file("broken.c")}
      << "int ours(void);\nint missing_function(void);\nint ours(void) { return "
         "missing_function(); }\n";
  build("gcc -std=c11", "'" + here.file("broken.c") + "'", here.file("broken.so"));
  std::ofstream{here.file("text.so")} << std::string(4096, 'x');
  REQUIRE(mkfifo(here.file("pipe.so").c_str(), 0666) == 0);
  const std::string how_to = "; docs/how-to/write-your-own-controller.md shows how to build one\n";
  const std::string abi = std::to_string(CTL_ABI_VERSION), before = std::to_string(CTL_ABI_VERSION - 1);
  const std::vector<std::pair<std::string, std::string>> wrong{
      {"./mien.so", "there is no such file; did you mean 'mine.so'?\n"},
      {"far/away.so", "there is no such file\n"},
      {".", "is a folder; a shared object is wanted\n"},
      {"./pipe.so", "is no file; a shared object is wanted\n"},
      {"text.so", "cannot be opened as a shared object (invalid ELF header)" + how_to},
      {"./broken.so", "cannot be opened as a shared object (undefined symbol: missing_function)" + how_to},
      {"./nothing.so",
       "has no ctl_abi_version, ctl_init; build it against controller/include/controller.h, in C++ "
       "inside extern \"C\"\n"},
      {"./old.so", "was built for version " + before + " of the interface, this program speaks version " +
                       abi + "; build it again with this controller/include/controller.h\n"},
      {"./picky.so", "its ctl_init refuses the parameters of the scenario (status 3, bad parameter)\n"}};
  for (const auto& [file, says] : wrong) {
    const Child child =
        run_duskline({"run", scenario, "--link", "plugin:" + file, "--out", "run"}, {.folder = here.path()});
    CHECK(child.exit_code == 2);
    CHECK(child.err == "--link:1:1: " + file + ": " + says);
    CHECK_FALSE(fs::exists(here.file("run")));
  }
}

// The number that stood for no process went to kill(), which takes it for all processes of the user.
TEST_CASE("a plug-in for which there is no process is refused and nobody is sent a signal") {
#if defined(__SANITIZE_ADDRESS__)
  skip("a process under the sanitizer needs what this test takes from it");
#else
  const Folder here{"plugin-no-process"};
  const std::string file = here.file("any.so");
  std::ofstream{file} << "no controller";
  ctl_params params;
  ctl_default_params(&params);
  const pid_t child = fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    // a call of kill() ends the process that makes it, before the system looks for a receiver
    sock_filter rules[] = {BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(seccomp_data, nr)),
                           BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_kill, 0, 1),
                           BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL_PROCESS),
                           BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW)};
    const sock_fprog filter{std::size(rules), rules};
    const rlimit none{0, 0};
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
        prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &filter) != 0 || setrlimit(RLIMIT_NOFILE, &none) != 0)
      _exit(2);
    const auto opened = duskline::harness::open_plugin(file, params);  // no descriptor is left for its socket
    const bool refused =
        !opened && opened.problems.at(0).message == "could not be started while it was opened";
    _exit(refused ? 0 : 1);
  }
  int status = 0;
  REQUIRE(waitpid(child, &status, 0) == child);
  REQUIRE(WIFEXITED(status));
  if (WEXITSTATUS(status) == 2) return skip("this system does not filter calls");
  CHECK(WEXITSTATUS(status) == 0);
#endif
}

TEST_CASE("whatever a plug-in does wrong ends the run by its name, with the trace so far") {
  const Folder here{"plugin-lost"};
  const std::string scenario = scenario_of(here, "1 min");
  made(here, "failing", "return in->tick < 30 ? CTL_OK : CTL_BAD_ARGUMENT;");
  made(here, "nan", "if (in->tick == 12) out->stack_current = NAN; return CTL_OK;");
  made(here, "lost", "out->mode = in->tick == 7 ? 77 : CTL_OFF; return CTL_OK;");
  made(here, "crashed", "if (in->tick == 20) raise(SIGSEGV); return CTL_OK;");
  made(here, "left", "if (in->tick == 50) exit(0); return CTL_OK;");
  const std::vector<std::tuple<std::string, std::string, std::string, double>> all{
      {"failing", "controller failed", "failing.so: status 1, bad argument", 30.0},
      {"nan", "answer unusable", "nan.so: stack_current is not a number", 12.0},
      {"lost", "answer unusable", "lost.so: mode 77 is not in the list", 7.0},
      {"crashed", "controller failed", "crashed.so: crashed (Segmentation fault)", 20.0},
      {"left", "controller failed", "left.so: ended its process with exit code 0", 50.0}};
  for (const auto& [name, reason, who, time] : all) {
    const Child child =
        run_duskline({"run", scenario, "--link", "plugin:" + name + ".so", "--out", name, "--quiet"},
                     {.folder = here.path()});
    CHECK(child.exit_code == 3);
    CHECK(has(child.err, "run not completed: " + reason + " at "));
    CHECK(has(child.err, who));
    const auto summary = nlohmann::json::parse(bytes_of(here.file(name + "/summary.json")));
    CHECK(summary["end"]["reason"] == reason);
    CHECK(summary["end"]["who"] == who);
    CHECK(summary["end"]["time"]["value"] == time);
    CHECK(fs::exists(here.file(name + "/trace.nc")));
  }
}

TEST_CASE("a plug-in that is slow, hangs or takes all memory ends by name, and its process goes") {
  const Folder here{"plugin-slow"};
  namespace harness = duskline::harness;
  ctl_params params;
  ctl_default_params(&params);
  // the limit that a case is not about is generous: a busy machine may take long to start a process
  const auto end_of = [&](const std::string& name, const std::string& step, double late, double none) {
    const harness::PluginLimits limits{.late = late, .none = none, .memory = std::uint64_t{64} << 20U};
    const auto opened = harness::open_plugin(made(here, name, step), params, limits);
    REQUIRE(opened);
    harness::Plugin& plugin = **opened.value;
    ctl_outputs out{};
    CHECK(plugin.step({}, out) == CTL_BAD_ARGUMENT);
    CHECK(plugin.step({}, out) == CTL_BAD_ARGUMENT);  // it stays as it is
    return std::string(duskline::plant::word(plugin.end())) + ": " + plugin.error();
  };
  CHECK(end_of("late", "const struct timespec t = {0, 200000000}; nanosleep(&t, NULL); return CTL_OK;", 0.1,
               60.0) == "answer late: late.so: its answer took more than 0.1 s");
  CHECK(end_of("hangs", "for (;;) pause();", 60.0, 5.0) == "link lost: hangs.so: no answer within 5 s");
#if !defined(__SANITIZE_ADDRESS__)
  CHECK(end_of("greedy", "if (malloc(100000000) == NULL) abort(); return CTL_OK;", 60.0, 60.0) ==
        "controller failed: greedy.so: crashed (Aborted)");
#endif
  CHECK(waitpid(-1, nullptr, WNOHANG) == -1);  // no child is left
  CHECK(errno == ECHILD);
}

TEST_CASE("an interrupt between a run and the one it is compared with is reported, with exit code 3") {
  const Folder here{"plugin-between"};
  const std::string scenario = scenario_of(here, "1 min");
  // the last of 60 ticks sends the signal: the run is whole, and the compared run has not begun
  made(here, "last", "if (in->tick == 59) kill(getppid(), SIGTERM); return CTL_OK;");
  const Child child = run_duskline(
      {"run", scenario, "--link", "plugin:./last.so", "--compare", "cascade", "--out", "run", "--quiet"},
      {.folder = here.path()});
  CHECK(child.exit_code == 3);
  CHECK(child.err == "compared run not completed: interrupted before it began\n");
  CHECK(fs::exists(here.file("run/summary.json")));
  CHECK_FALSE(fs::exists(here.file("run/compared.json")));
}

TEST_CASE("verify judges a plug-in by what the scenarios ask for") {
  const Folder here{"plugin-verify"};
  const std::string scenario = scenario_of(here, "8 min");
  std::ofstream{scenario, std::ios::app}
      << "requirements:\n  - {name: oxygen, must: \"after 6 min: always (oxygen_rate > 7 g/h)\"}\n";
  made(here, "idle", "return CTL_OK;");
  const std::string junit = here.file("idle.xml");
  CHECK(run_duskline({"verify", scenario}).exit_code == 0);
  const Child idle = run_duskline({"verify", scenario, "--link", "plugin:" + here.file("idle.so"),
                                   "--no-record", "--junit", junit, "--out", here.file("kept")});
  INFO(idle.out << idle.err);
  CHECK(idle.exit_code == 1);
  CHECK(has(idle.out, "violated"));
  CHECK(has(bytes_of(junit), "<failure"));
  CHECK_FALSE(fs::exists(here.file("kept")));
  // what failed is run again by the same controller
  CHECK(run_duskline(
            {"verify", scenario, "--link", "plugin:" + here.file("idle.so"), "--out", here.file("kept")})
            .exit_code == 1);
  std::size_t kept = 0;
  for (const auto& entry : fs::recursive_directory_iterator(here.file("kept")))
    if (entry.path().filename() == "summary.json") {
      ++kept;
      CHECK(nlohmann::json::parse(bytes_of(entry.path().string()))["controller"]["is"] == "plug-in idle.so");
    }
  CHECK(kept == 1);
  const Child none = run_duskline({"verify", scenario, "--link", "plugin:" + here.file("none.so")});
  CHECK(none.exit_code == 2);
  CHECK(has(none.err, "there is no such file"));
}

TEST_CASE("a plug-in that changes the rounding leaves the plant's alone") {
  const Folder here{"plugin-rounding"};
  const std::string scenario = scenario_of(here, "2 min");
  made(here, "plain", "return CTL_OK;");
  made(here, "rough", "fesetround(FE_UPWARD); return CTL_OK;");
  for (const std::string name : {"plain", "rough"})
    CHECK(run_duskline({"run", scenario, "--link", "plugin:" + name + ".so", "--out", name, "--quiet"},
                       {.folder = here.path()})
              .exit_code == 0);
  CHECK((bytes_of(here.file("plain/trace.nc")) == bytes_of(here.file("rough/trace.nc"))));
}

TEST_CASE("verify goes on after a plug-in has crashed, and says which scenario was not completed") {
  const Folder here{"plugin-goes-on"};
  scenario_of(here, "1 min");
  std::ofstream{here.file("long.yaml")} << bytes_of(scenario_of(here, "2 min"));
  scenario_of(here, "1 min");
  for (const char* name : {"hot.yaml", "long.yaml"})
    std::ofstream{here.file(name), std::ios::app}
        << "requirements:\n  - {name: air, must: \"always (ambient_pressure > 1 Pa)\"}\n";
  made(here, "crashes", "if (in->tick == 90) abort(); return CTL_OK;");
  const Child child = run_duskline(
      {"verify", "long.yaml", "hot.yaml", "--jobs", "1", "--link", "plugin:./crashes.so", "--no-record"},
      {.folder = here.path()});
  INFO(child.out << child.err);
  CHECK(child.exit_code == 3);
  CHECK(has(child.out, "controller failed"));
  CHECK(has(child.out, "2 satisfied"));
  CHECK(has(child.out, "1 scenario not completed"));
}

TEST_CASE("a controller that ends its process while it is opened is refused") {
  const Folder here{"plugin-exit"};
  const std::string scenario = scenario_of(here, "2 h");
  const std::string early = made(here, "early", "return CTL_OK;", "CTL_ABI_VERSION", "(exit(0), CTL_OK)");
  const Child child =
      run_duskline({"run", scenario, "--link", "plugin:" + early, "--out", here.file("early"), "--quiet"});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err, "ended its process with exit code 0 while it was opened"));
  CHECK_FALSE(fs::exists(here.file("early")));
}
