#include "hil-harness/links/plugin_process.hpp"

#include <dlfcn.h>
#include <fmt/format.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include "hil-harness/links/answer.hpp"
#include "hil-harness/links/plugin.hpp"

namespace duskline::harness {
namespace {

constexpr const char* kHowTo = "docs/how-to/write-your-own-controller.md shows how to build one";

/// What the linker said, without the path that it begins with.
std::string linker_words(const std::string& path) {
  const char* said = dlerror();
  std::string text = said != nullptr ? said : "no reason given";
  if (text.starts_with(path + ": ")) text.erase(0, path.size() + 2);
  return text;
}

/// What the names of a controller's functions begin with in a shared object, and the header that declares them.
template <class C>
constexpr const char* kPrefix = std::is_same_v<C, PlantController> ? "ctl_plant_" : "ctl_";
template <class C>
constexpr const char* kHeader = std::is_same_v<C, PlantController> ? "controller/include/plant_controller.h"
                                                                   : "controller/include/controller.h";

template <class C>
struct Functions {
  std::uint32_t (*abi_version)(){};
  std::remove_const_t<decltype(C::init)> init{};
  std::remove_const_t<decltype(C::step)> step{};
  std::remove_const_t<decltype(C::retain)> retain{};    // null: it has none
  std::remove_const_t<decltype(C::restart)> restart{};  // null: it has none
  decltype(&ctl_state_layout) state_layout{};           // null: it has none
};

/// Opens the file; what is wrong with it, or nothing.
template <class C>
std::string open_functions(const std::string& path, Functions<C>& f) {
  // a name without a slash would be looked for among the libraries of the system
  const std::string whole = std::filesystem::absolute(path).string();
  void* const handle = dlopen(whole.c_str(), RTLD_NOW | RTLD_LOCAL);
  if (handle == nullptr)
    return fmt::format("cannot be opened as a shared object ({}); {}", linker_words(whole), kHowTo);
  std::string missing;
  const auto find = [&](auto& function, const char* name, bool needed) {
    const std::string symbol = std::string(kPrefix<C>) + name;
    function = reinterpret_cast<std::remove_reference_t<decltype(function)>>(dlsym(handle, symbol.c_str()));
    if (function == nullptr && needed) missing += fmt::format("{}{}", missing.empty() ? "" : ", ", symbol);
  };
  find(f.abi_version, "abi_version", true);
  find(f.init, "init", true);
  find(f.step, "step", true);
  find(f.retain, "retain", false);
  find(f.restart, "restart", false);
  if constexpr (std::is_same_v<C, ModuleController>) find(f.state_layout, "state_layout", false);
  if (!missing.empty())
    return fmt::format("has no {}; build it against {}, in C++ inside extern \"C\"", missing, kHeader<C>);
  if (const std::uint32_t version = f.abi_version(); version != C::kVersion)
    return fmt::format(
        "was built for version {} of the interface, this program speaks version {}; build it again with this "
        "{}",
        version, C::kVersion, kHeader<C>);
  return {};
}

template <class C>
ctl_status restart_plugin(const Functions<C>& f, typename C::State& state, const typename C::Params& params,
                          bool intact) {
  if (f.retain == nullptr || f.restart == nullptr) {
    const ctl_status fresh = f.init(&state, &params);
    return fresh == CTL_OK ? CTL_NOT_RETAINED : fresh;
  }
  typename C::Retained memory{};
  f.retain(&state, &memory);
  if (!intact) memory.checksum ^= 1u;
  return f.restart(&state, &params, &memory);
}

/// Nothing of the run is reachable from here: its files and sockets, its handlers of signals and of the end.
void leave_the_run(int socket, std::uint64_t memory) {
  setpgid(0, 0);  // Ctrl-C is for the run, which then ends this process itself
  prctl(PR_SET_PDEATHSIG, SIGKILL);
  for (const int signal :
       {SIGINT, SIGTERM, SIGHUP, SIGPIPE, SIGXFSZ, SIGABRT, SIGBUS, SIGFPE, SIGILL, SIGSEGV})
    std::signal(signal, SIG_DFL);
  on_exit([](int code, void*) { _exit(code); }, nullptr);  // before those that the run has registered
  constexpr unsigned kFirst = STDERR_FILENO + 1;
  const auto own = static_cast<unsigned>(socket);
  if (own > kFirst) close_range(kFirst, own - 1, 0);
  close_range(own + 1, ~0U, 0);
  const rlimit none{0, 0};
  setrlimit(RLIMIT_CORE, &none);
#if !defined(__SANITIZE_ADDRESS__)  // which maps the whole of the address space
  const rlimit data{memory, memory};
  if (memory != 0) setrlimit(RLIMIT_DATA, &data);
#else
  static_cast<void>(memory);
#endif
}

template <class Message>
bool send_message(int socket, const Message& message) {
  return send(socket, &message, sizeof message, MSG_NOSIGNAL) == sizeof message;
}

template <class C>
void show_field(const Functions<C>& f, std::uint32_t number, PluginView<C>& view) {
  const ctl_field* fields = nullptr;
  view.fields = f.state_layout == nullptr ? 0 : f.state_layout(&fields);
  if (fields == nullptr) view.fields = 0;
  if (number >= view.fields) return;
  view.field = fields[number];
  if (view.field.name != nullptr) std::string(view.field.name).copy(view.name, sizeof view.name - 1);
  if (view.field.unit != nullptr) std::string(view.field.unit).copy(view.unit, sizeof view.unit - 1);
}

/// The answer to those who look into the controller; its own state does not move.
template <class C>
PluginView<C> view_of(const Functions<C>& f, const typename C::State& state, const PluginProbe<C>& probe) {
  using Request = PluginRequest<C>;
  PluginView<C> view{};
  view.state = state;
  if (probe.request.kind == Request::field) show_field(f, probe.request.number, view);
  if (probe.request.kind != Request::step_from) return view;
  view.state = probe.state;
  view.answer.status = f.step(&view.state, &probe.params, &probe.request.in, &view.answer.out);
  return view;
}

}  // namespace

template <class C>
void serve_plugin(int socket, const std::string& path, const typename C::Params& params,
                  std::uint64_t memory) {
  using Request = PluginRequest<C>;
  leave_the_run(socket, memory);
  static typename C::State state;
  Functions<C> f;
  PluginAnswer<C> answer{};
  std::string problem = open_functions(path, f);
  if (problem.empty()) answer.status = f.init(&state, &params);
  if (answer.status != CTL_OK)
    problem = fmt::format("its {}init refuses the parameters of the scenario ({})", kPrefix<C>,
                          status_words(answer.status));
  problem.copy(answer.problem, sizeof answer.problem - 1);
  static PluginProbe<C> probe;
  Request& request = probe.request;
  bool going = send_message(socket, answer) && problem.empty();
  answer = {};
  while (going) {
    const ssize_t got = recv(socket, &probe, sizeof probe, 0);
    if (got < 0 && errno == EINTR) continue;
    if (got != sizeof request && got != sizeof probe) break;
    if (request.kind == Request::step) {
      answer.out = unwritten_outputs<C>();
      answer.status = f.step(&state, &params, &request.in, &answer.out);
      going = send_message(socket, answer);
    } else if (request.kind == Request::restart) {
      answer.status = restart_plugin(f, state, params, request.number != 0);
      going = send_message(socket, answer);
    } else {
      going = send_message(socket, view_of(f, state, probe));
    }
  }
  std::fflush(nullptr);  // what the plug-in has printed
  _exit(0);
}

template void serve_plugin<ModuleController>(int, const std::string&, const ctl_params&, std::uint64_t);
template void serve_plugin<PlantController>(int, const std::string&, const ctl_plant_params&, std::uint64_t);

}  // namespace duskline::harness
