// Ten thousand malformed inputs for each reader that has no such test beside it, from a seed: acts, requests of the
// console, messages of a plug-in's process, calls of the unit for co-simulation. None crashes, hangs or writes what it
// should not. Frames: frame_test.cpp; Modbus: modbus_test.cpp.
#include <dlfcn.h>

#include <catch2/catch.hpp>
#include <cstring>
#include <random>

#include "hil-harness/fmi/description.hpp"
#include "hil-harness/fmi/unit/fmi2.h"
#include "hil-harness/links/answer.hpp"
#include "hil-harness/links/plugin.hpp"
#include "hil-harness/links/plugin_process.hpp"
#include "hil-harness/train/training_session.hpp"
#include "scenarios/reader/acts.hpp"
#include "tests/support/child.hpp"
#include "tests/support/sanitizer.hpp"
#include "tests/support/shipped_case.hpp"
#include "tests/support/skip.hpp"

using namespace duskline;

namespace {

constexpr int kTimes = 10000;

std::size_t below(std::mt19937& random, std::size_t limit) {
  return random() % limit;
}

/// A text with one to four changes: bits, bytes lost or repeated, a piece of the text elsewhere, words that readers dread.
std::string changed(std::string text, std::mt19937& random) {
  static const std::vector<std::string> kDread{"nan",
                                               "inf",
                                               "-1e309",
                                               "1e308",
                                               "0x10",
                                               "null",
                                               "~",
                                               "{",
                                               "}",
                                               "[",
                                               "]",
                                               "\"",
                                               "\\u0000",
                                               "&a",
                                               "*a",
                                               "<<: ",
                                               "- ",
                                               ":",
                                               "\n",
                                               "\t",
                                               "\xff",
                                               std::string(1, '\0'),
                                               "18446744073709551616",
                                               "-0",
                                               "!!binary ",
                                               "9999999 h"};
  for (std::size_t n = 1 + below(random, 4); n > 0; --n) {
    const std::size_t at = below(random, text.size() + 1), length = below(random, 12);
    switch (below(random, 5)) {
      case 0:
        if (at < text.size()) text[at] = static_cast<char>(text[at] ^ (1 << below(random, 8)));
        break;
      case 1:
        text.erase(at, length);
        break;
      case 2:
        text.insert(at, text.substr(below(random, text.size() + 1), length));
        break;
      case 3:
        text.insert(at, kDread[below(random, kDread.size())]);
        break;
      default:
        text.resize(at);
    }
  }
  return text;
}

}  // namespace

TEST_CASE("Ten thousand malformed files of acts are refused with a place, or read back to themselves") {
  const std::string whole =
      "format: duskline-acts/1\ncommands:\n  - {at: 5 min, demand: 8 g/h}\n  - {at: 16 min, mode: "
      "production, "
      "power_ceiling: 260 W}\noperator:\n  - {at: 9 min, action: acknowledge-all}\nfaults:\n  - {at: 7 min, "
      "fault: "
      "gust, size: 12 m/s}\ncleared:\n  - {at: 11 min, fault: gust}\ncauses:\n  - {at: 8 min, cause: recycle "
      "lost}\n"
      "notes:\n  - {at: 8 min, by: observer, text: \"less CO\"}\n";
  REQUIRE(scenarios::parse_acts(whole, "acts.yaml"));
  std::mt19937 random(101);
  int refused = 0;
  for (int i = 0; i < kTimes; ++i) {
    const std::string text = changed(whole, random);
    const auto read = scenarios::parse_acts(text, "acts.yaml");
    INFO(text);
    if (read) {
      const std::string written = scenarios::write_acts(*read.value);
      const auto again = scenarios::parse_acts(written, "acts.yaml");
      INFO(written << scenarios::to_text(again.problems));
      REQUIRE(again);
      REQUIRE(scenarios::write_acts(*again.value) == written);
      continue;
    }
    ++refused;
    REQUIRE_FALSE(read.problems.empty());
    REQUIRE(scenarios::to_text(read.problems).starts_with("acts.yaml:"));
  }
  CHECK(refused > kTimes / 2);
}

TEST_CASE("Ten thousand malformed requests of the console change nothing unless they are granted") {
  const std::vector<std::pair<std::string, std::string>> requests{
      {"command", R"({"name":"demand","value":8})"},
      {"command", R"({"name":"production"})"},
      {"alarm", R"({"name":"link-lost","act":"shelve","minutes":20,"reason":"known"})"},
      {"alarm", R"({"act":"acknowledge-all","reason":"all seen"})"},
      {"note", R"({"text":"calm"})"},
      {"diagnosis", R"({"name":"recycle lost"})"},
      {"check", R"({"procedure":"lesson","step":1,"done":true})"},
      {"instructor", R"({"act":"fault","name":"gust","size":12,"at":600,"length":60})"},
      {"instructor", R"({"act":"weather","name":"wind","value":12,"ramp":60})"},
      {"instructor", R"({"act":"clear_fault","name":"gust"})"},
      {"instructor", R"({"act":"speed","value":10})"},
      {"instructor", R"({"act":"back","t":0})"},
      {"instructor", R"({"act":"save","name":"here"})"},
      {"nothing", "{}"}};
  std::mt19937 random(103);
  const scenarios::Case c =
      tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=30 min"});
  std::unique_ptr<harness::TrainingSession> session;
  std::string acts;
  int granted = 0, refused = 0;
  for (int i = 0; i < kTimes; ++i) {
    if (i % 500 == 0) {  // from the start, so that what was granted does not pile up
      session = std::make_unique<harness::TrainingSession>(c, scenarios::ConsoleFile{}, "calm", 60.0);
      REQUIRE(session->open("").empty());
      acts = session->acts_text();
    }
    const auto& [what, whole] = requests[below(random, requests.size())];
    const auto role = static_cast<harness::PersonRole>(below(random, 3));
    const std::string body = i % 10 == 0 ? whole : changed(whole, random);
    INFO(what << " " << body);
    const harness::SessionReply reply = session->request(role, what, body);
    const bool is_json = nlohmann::json::accept(reply.body);
    REQUIRE((reply.body.empty() || is_json));
    const std::string after = session->acts_text();
    const bool moved = after != acts;
    acts = after;
    if (reply.status == 200) {
      ++granted;
      REQUIRE(scenarios::parse_acts(acts, "acts.yaml"));
    } else {
      ++refused;
      REQUIRE((reply.status == 403 || reply.status == 404 || reply.status == 409 || reply.status == 422));
      // what is not permitted now is noted by the console itself, nothing else
      if (reply.status != 409) REQUIRE_FALSE(moved);
    }
  }
  CHECK(granted > 500);
  CHECK(refused > kTimes / 2);
  // a reason for what concerns no single alarm
  CHECK(session->request(harness::PersonRole::instruct, "alarm", requests[3].second).status == 200);
  CHECK(tests::has(session->acts_text(), "all alarms, acknowledge-all: all seen"));
}

TEST_CASE("Ten thousand malformed messages of a plug-in's process end the run by name or are unusable") {
#if defined(__SANITIZE_ADDRESS__)
  tests::skip("a plug-in that takes its process over is not stopped by sanitizers' limits");
#else
  const tests::Folder here{"plugin-noise"};
  // takes its process over: every request is answered with any bytes, now and then of any length
  std::ofstream{here.file("noise.c")} << R"(
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include "controller/include/controller.h"
static uint64_t seed;
static uint32_t any(void) { seed = seed * 6364136223846793005u + 1442695040888963407u; return (uint32_t)(seed >> 33); }
uint32_t ctl_abi_version(void) { return CTL_ABI_VERSION; }
ctl_status ctl_init(ctl_state* s, const ctl_params* p) {
  static unsigned char message[65536];
  (void)s;
  seed = (uint64_t)p->shelve_max;
  int line = 3, type = 0;
  socklen_t size = sizeof type;
  while (line < 256 && (getsockopt(line, SOL_SOCKET, SO_TYPE, &type, &size) != 0 || type != SOCK_SEQPACKET)) ++line;
  const int honest_start = any() % 4 != 0;
  for (int n = 0;; ++n) {
    size_t bytes = n > 0 && VIEWS ? VIEW_BYTES : ANSWER_BYTES;
    if (n > 0 && any() % 64 == 0) bytes = any() % sizeof message;
    for (size_t k = 0; k < bytes; ++k) message[k] = (unsigned char)any();
    if (any() % 4 != 0) memset(message, 0, 4);
    if (n == 0 && honest_start) memset(message, 0, bytes);
    if (send(line, message, bytes, MSG_NOSIGNAL) < 0) _exit(1);
    if (recv(line, message, sizeof message, 0) <= 0) _exit(0);
  }
}
ctl_status ctl_step(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
  (void)s; (void)p; (void)in; (void)out; return CTL_OK;
}
)";
  const auto build = [&](const std::string& name, int views) {
    const auto built = test::run_command(
        "gcc -std=gnu11 -O1 -fPIC -shared -I " DUSKLINE_SOURCE_DIR " -DVIEWS=" + std::to_string(views) +
        " -DANSWER_BYTES=" + std::to_string(sizeof(harness::PluginAnswer<harness::ModuleController>)) +
        " -DVIEW_BYTES=" + std::to_string(sizeof(harness::PluginView<harness::ModuleController>)) + " '" +
        here.file("noise.c") + "' -o '" + here.file(name) + "'");
    INFO(built.text);
    REQUIRE(built.status == 0);
    return here.file(name);
  };
  const std::string answers = build("answers.so", 0), views = build("views.so", 1);
  ctl_params params;
  ctl_default_params(&params);
  std::mt19937 random(109);
  int messages = 0, refused = 0, failed = 0, unusable = 0;
  for (int process = 0; messages < kTimes; ++process) {
    REQUIRE(process < kTimes);
    params.shelve_max = static_cast<float>(process);  // the seed
    const bool looks = process % 2 == 1;
    const harness::PluginLimits limits{.late = 60.0, .none = 60.0};
    const auto opened = harness::open_plugin(looks ? views : answers, params, limits);
    ++messages;
    if (!opened) {
      ++refused;
      continue;
    }
    harness::Plugin& plugin = **opened.value;
    while (plugin.error().empty() && messages < kTimes) {
      ++messages;
      if (looks) {
        if (plugin.memory() == nullptr) break;
        ctl_state state{};
        ctl_outputs out{};
        plugin.step_from(state, params, {}, out);
        if (below(random, 16) != 0) continue;  // it asks once for each field, of up to 4096
        bool ended = true;
        for (const ctl_field& f : plugin.layout())
          ended = ended && f.name != nullptr && std::strlen(f.name) <= 128;
        REQUIRE(ended);
      } else {
        ctl_outputs out{};
        if (plugin.step({}, out) == CTL_OK && !harness::unusable(out).empty()) ++unusable;
      }
    }
    failed += plugin.error().empty() ? 0 : 1;
  }
  CHECK(refused > 10);
  CHECK(failed > 50);
  CHECK(unusable > 100);
#endif
}

namespace {

std::string said_last;  // by the unit
void take_words(fmi2ComponentEnvironment, fmi2String, fmi2Status, fmi2String, fmi2String, ...) {
  said_last = "said";
}

}  // namespace

TEST_CASE("Ten thousand malformed calls of the unit for co-simulation are refused and write nothing") {
#if !defined(__SANITIZE_ADDRESS__)
  if (!tests::sanitizer_library().empty())
    return tests::skip("a unit with sanitizers cannot be loaded into a program without them");
#endif
  const tests::Folder here{"unit-calls"};
  const tests::Child child = tests::run_duskline(
      {"export-fmu", "dawn-dusk/equinox-sol", "--out", here.file("plant.fmu"), "--set", "duration=10 min"});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  const auto taken =
      test::run_command("cd '" + here.path() + "' && /usr/bin/python3 -m zipfile -e plant.fmu . && " +
                        "sed -n 's/.*guid=\"\\([^\"]*\\)\".*/\\1/p' modelDescription.xml");
  INFO(taken.text);
  REQUIRE(taken.status == 0);
  const std::string guid = taken.text.substr(0, taken.text.find('\n'));
  void* const object = dlopen(here.file("binaries/linux64/duskline_unit.so").c_str(), RTLD_NOW | RTLD_LOCAL);
  REQUIRE(object != nullptr);
  const auto find = [&]<class F>(F*& function, const char* name) {
    function = reinterpret_cast<F*>(dlsym(object, name));
    REQUIRE(function != nullptr);
  };
  fmi2Component (*instantiate)(fmi2String, fmi2Type, fmi2String, fmi2String, const fmi2CallbackFunctions*,
                               fmi2Boolean, fmi2Boolean);
  fmi2Status (*enter)(fmi2Component);
  fmi2Status (*set_real)(fmi2Component, const fmi2ValueReference*, std::size_t, const fmi2Real*);
  fmi2Status (*get_real)(fmi2Component, const fmi2ValueReference*, std::size_t, fmi2Real*);
  fmi2Status (*set_integer)(fmi2Component, const fmi2ValueReference*, std::size_t, const fmi2Integer*);
  fmi2Status (*step)(fmi2Component, fmi2Real, fmi2Real, fmi2Boolean);
  void (*release)(fmi2Component);
  find(instantiate, "fmi2Instantiate");
  find(enter, "fmi2EnterInitializationMode");
  find(set_real, "fmi2SetReal");
  find(get_real, "fmi2GetReal");
  find(set_integer, "fmi2SetInteger");
  find(step, "fmi2DoStep");
  find(release, "fmi2FreeInstance");
  fmi2CallbackFunctions callbacks{};
  callbacks.logger = take_words;
  const std::string resources = "file://" + here.file("resources");
  std::mt19937 random(107);

  for (int i = 0; i < 200; ++i) {  // each reads a scenario
    const std::string where = i == 0 ? "file:///%zz%" : changed(resources, random),
                      who = changed(guid, random);
    const bool right = who == guid;
    fmi2Component c = instantiate("unit", i % 7 == 0 ? fmi2ModelExchange : fmi2CoSimulation, who.c_str(),
                                  where.c_str(), &callbacks, 0, 0);
    REQUIRE((c == nullptr || (right && i % 7 != 0)));
    if (c != nullptr) release(c);
  }
  fmi2Component unit =
      instantiate("unit", fmi2CoSimulation, guid.c_str(), resources.c_str(), &callbacks, 0, 0);
  REQUIRE(unit != nullptr);
  CHECK(step(unit, 0.0, 1.0, 1) == fmi2Error);  // before it is initialised
  REQUIRE(enter(unit) == fmi2OK);
  const auto any_number = [&random]() -> double {
    const std::uint64_t bits = (std::uint64_t{random()} << 32U) | random();
    double value = 0.0;
    std::memcpy(&value, &bits, sizeof value);
    constexpr double kOdd[]{0.0, -0.0, 1e308, -1e308, 1e19, 1.5, -1.0, INFINITY, NAN};
    switch (random() % 3) {
      case 0:
        return value;
      case 1:
        return kOdd[random() % std::size(kOdd)];
      default:
        return static_cast<double>(random() % 1000) / 100.0;
    }
  };
  std::map<unsigned, const harness::RegisterRow*> rows;
  for (const harness::RegisterRow* row : harness::unit_variables()) rows[harness::unit_reference(*row)] = row;
  int accepted = 0, refused = 0;
  for (int i = 200; i < kTimes; ++i) {
    auto at = std::next(rows.begin(), static_cast<long>(below(random, rows.size())));
    const unsigned reference = random() % 4 == 0 ? static_cast<unsigned>(random()) : at->first;
    const double value = any_number();
    said_last.clear();
    fmi2Status status = fmi2OK;
    switch (random() % 4) {
      case 0: {
        status = step(unit, any_number(), 1.5 * any_number(), 1);
        break;
      }
      case 1: {
        const auto whole = static_cast<fmi2Integer>(random());
        status = set_integer(unit, &reference, 1, &whole);
        if (status == fmi2OK)
          REQUIRE((rows.count(reference) == 1 && whole >= rows[reference]->lower &&
                   whole <= rows[reference]->upper));
        break;
      }
      default: {
        fmi2Real before = 0.0, after = 0.0;
        const bool there = get_real(unit, &reference, 1, &before) == fmi2OK;
        REQUIRE((!there || rows.count(reference) == 1));
        status = set_real(unit, &reference, 1, &value);
        if (there) REQUIRE(get_real(unit, &reference, 1, &after) == fmi2OK);
        if (status == fmi2OK) {
          REQUIRE((there && value >= rows[reference]->lower && value <= rows[reference]->upper));
          REQUIRE(after == static_cast<double>(static_cast<float>(value)));
        } else if (there) {
          REQUIRE(std::memcmp(&before, &after, sizeof before) == 0);
        }
      }
    }
    if (status == fmi2OK) ++accepted;
    if (status == fmi2Error) {
      ++refused;
      CHECK(said_last == "said");
    }
  }
  release(unit);
  CHECK(accepted > 100);
  CHECK(refused > kTimes / 2);
}
