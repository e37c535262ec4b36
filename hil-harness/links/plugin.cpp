#include "hil-harness/links/plugin.hpp"

#include <fmt/format.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <deque>
#include <filesystem>
#include <vector>

#include "hil-harness/links/answer.hpp"
#include "hil-harness/links/plugin_process.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr std::uint32_t kFieldsMax = CTL_STATE_BYTES;  // a byte each

const char* word(ctl_status status) {
  switch (status) {
    case CTL_OK:
      return "all well";
    case CTL_BAD_ARGUMENT:
      return "bad argument";
    case CTL_BAD_VERSION:
      return "bad version";
    case CTL_BAD_PARAMETER:
      return "bad parameter";
    case CTL_NOT_RETAINED:
      return "not retained";
  }
  return "a status outside the list";
}

/// A text of the other process, which need not have ended it.
template <std::size_t N>
std::string text_of(const char (&text)[N]) {
  return {text, strnlen(text, N)};
}

/// Names in the folder of `path` that could have been meant.
std::string near_file(const fs::path& path) {
  std::vector<std::string> names;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(path.has_parent_path() ? path.parent_path() : ".", error))
    if (entry.path().extension() == ".so") names.push_back(entry.path().filename().string());
  std::sort(names.begin(), names.end());
  return scenarios::did_you_mean(path.filename().string(), names);
}

}  // namespace

std::string status_words(ctl_status status) {
  return fmt::format("status {}, {}", static_cast<int>(status), word(status));
}

template <class C>
struct PluginOf<C>::Messages {
  PluginRequest<C> request{};
  PluginAnswer<C> answer{};
  PluginProbe<C> probe{};
  PluginView<C> view{};
  std::deque<std::string> words;  ///< of the fields
  std::vector<ctl_field> fields;
};

template <class C>
PluginOf<C>::PluginOf(const std::string& path, const Params& params, const PluginLimits& limits)
    : name_(fs::path(path).filename().string()), limits_(limits), messages_(std::make_unique<Messages>()) {
  std::array<int, 2> pair{};
  if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair.data()) != 0) return;
  std::fflush(nullptr);  // or both processes would write what stands in the buffers
  child_ = fork();
  if (child_ == 0) serve_plugin<C>(pair[1], path, params, limits.memory);
  close(pair[1]);
  socket_ = pair[0];
  const double whole = std::floor(limits.none);
  const timeval none{static_cast<time_t>(whole), static_cast<suseconds_t>((limits.none - whole) * 1e6)};
  setsockopt(socket_, SOL_SOCKET, SO_RCVTIMEO, &none, sizeof none);
}

template <class C>
PluginOf<C>::~PluginOf() {
  if (socket_ >= 0) close(socket_);
  if (child_ <= 0) return;
  // it ends by itself at the end of its input; one that does not is killed
  for (int i = 0; i < 50; ++i) {
    if (waitpid(child_, nullptr, WNOHANG) == child_) return;
    usleep(i < 10 ? 200 : 5000);
  }
  kill(child_, SIGKILL);
  waitpid(child_, nullptr, 0);
}

template <class C>
void PluginOf<C>::fail(plant::RunEnd end, const std::string& what) const {
  if (!error_.empty()) return;
  end_ = end;
  error_ = fmt::format("{}: {}", name_, what);
}

/// How the process ended; it has closed its side of the socket, or is to be ended.
template <class C>
std::string PluginOf<C>::how_it_ended() const {
  if (child_ <= 0) return "could not be started";  // the number of no process means many to kill()
  int status = 0;
  kill(child_, SIGKILL);  // too late for one that has ended
  if (waitpid(child_, &status, 0) != child_) return "could not be started";
  child_ = -1;
  if (WIFSIGNALED(status)) return fmt::format("crashed ({})", strsignal(WTERMSIG(status)));
  return fmt::format("ended its process with exit code {}", WEXITSTATUS(status));
}

template <class C>
typename PluginOf<C>::Got PluginOf<C>::receive(void* answer, std::size_t size) const {
  using Clock = std::chrono::steady_clock;
  constexpr double kAfterSignal = 1.0;  // s that an answer has when somebody wants the run to stop
  const auto begin = Clock::now();
  double limit = limits_.none;
  for (;;) {
    const ssize_t got = recv(socket_, answer, size, 0);
    if (got == static_cast<ssize_t>(size)) return Got::answer;
    if (got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) return Got::nothing;
    if (got >= 0 || errno != EINTR) return Got::closed;
    const double waited = std::chrono::duration<double>(Clock::now() - begin).count();
    limit = std::min(limit, waited + kAfterSignal);
    const timeval rest{static_cast<time_t>(limit - waited), 999999};
    setsockopt(socket_, SOL_SOCKET, SO_RCVTIMEO, &rest, sizeof rest);
  }
}

template <class C>
std::string PluginOf<C>::start() {
  switch (receive(&messages_->answer, sizeof messages_->answer)) {
    case Got::answer:
      return text_of(messages_->answer.problem);
    case Got::nothing:
      return fmt::format("has not started within {:g} s", limits_.none);
    case Got::closed:
      break;
  }
  return how_it_ended() + " while it was opened";
}

template <class C>
bool PluginOf<C>::ask(const void* request, std::size_t bytes, void* answer, std::size_t size) const {
  using Clock = std::chrono::steady_clock;
  if (!error_.empty()) return false;
  const auto begin = Clock::now();
  const bool sent = send(socket_, request, bytes, MSG_NOSIGNAL) == static_cast<ssize_t>(bytes);
  const Got got = sent ? receive(answer, size) : Got::closed;
  const double took = std::chrono::duration<double>(Clock::now() - begin).count();
  if (got == Got::nothing)
    fail(plant::RunEnd::link_lost, fmt::format("no answer within {:g} s", limits_.none));
  else if (got == Got::closed)
    fail(plant::RunEnd::controller_failed, how_it_ended());
  else if (took > limits_.late)
    fail(plant::RunEnd::answer_late, fmt::format("its answer took more than {:g} s", limits_.late));
  return error_.empty();
}

template <class C>
ctl_status PluginOf<C>::step(const Inputs& in, Outputs& out) {
  Messages& m = *messages_;
  m.request = {PluginRequest<C>::step, 0, in};
  if (!ask(&m.request, sizeof m.request, &m.answer, sizeof m.answer)) return CTL_BAD_ARGUMENT;
  out = m.answer.out;
  const ctl_status status = m.answer.status;
  if (status != CTL_OK) fail(plant::RunEnd::controller_failed, status_words(status));
  return status == CTL_OK ? CTL_OK : CTL_BAD_ARGUMENT;
}

template <class C>
ctl_status PluginOf<C>::restart(bool intact) {
  Messages& m = *messages_;
  m.request = {PluginRequest<C>::restart, intact ? 1U : 0U, {}};
  if (!ask(&m.request, sizeof m.request, &m.answer, sizeof m.answer)) return CTL_BAD_ARGUMENT;
  const ctl_status status = m.answer.status;
  if (status == CTL_OK || status == CTL_NOT_RETAINED) return status;
  fail(plant::RunEnd::controller_failed, status_words(status));
  return CTL_BAD_ARGUMENT;
}

template <class C>
bool PluginOf<C>::look(std::uint32_t kind, std::uint32_t number) const {
  Messages& m = *messages_;
  m.request = {static_cast<typename PluginRequest<C>::Kind>(kind), number, {}};
  return ask(&m.request, sizeof m.request, &m.view, sizeof m.view);
}

template <class C>
const typename PluginOf<C>::State* PluginOf<C>::memory() const {
  return look(PluginRequest<C>::memory, 0) ? &messages_->view.state : nullptr;
}

template <class C>
std::span<const ctl_field> PluginOf<C>::layout() const {
  Messages& m = *messages_;
  if (!m.fields.empty()) return m.fields;
  do {
    if (!look(PluginRequest<C>::field, static_cast<std::uint32_t>(m.fields.size()))) return {};
    if (m.view.fields == 0) return {};
    ctl_field field = m.view.field;
    field.name = m.words.emplace_back(text_of(m.view.name)).c_str();
    field.unit = field.unit == nullptr ? nullptr : m.words.emplace_back(text_of(m.view.unit)).c_str();
    m.fields.push_back(field);
  } while (m.fields.size() < std::min(m.view.fields, kFieldsMax));
  return m.fields;
}

template <class C>
ctl_status PluginOf<C>::step_from(State& state, const Params& params, const Inputs& in, Outputs& out) const {
  Messages& m = *messages_;
  m.probe = {{PluginRequest<C>::step_from, 0, in}, state, params};
  if (!ask(&m.probe, sizeof m.probe, &m.view, sizeof m.view)) return CTL_BAD_ARGUMENT;
  state = m.view.state;
  out = m.view.answer.out;
  const ctl_status status = m.view.answer.status;
  return status == CTL_OK && !unusable(out).empty() ? CTL_BAD_ARGUMENT : status;
}

template <class C>
scenarios::Result<std::shared_ptr<PluginOf<C>>> open_plugin(const std::string& path,
                                                            const typename C::Params& params,
                                                            const PluginLimits& limits) {
  const auto refuse = [&path](std::string message) -> scenarios::Result<std::shared_ptr<PluginOf<C>>> {
    return {std::nullopt, {{"--link", 1, 1, path, std::move(message)}}};
  };
  std::error_code error;
  if (!fs::exists(path, error)) return refuse("there is no such file" + near_file(path));
  if (fs::is_directory(path, error)) return refuse("is a folder; a shared object is wanted");
  if (!fs::is_regular_file(path, error))
    return refuse("is no file; a shared object is wanted");  // a pipe has no end
  auto plugin = std::make_shared<PluginOf<C>>(path, params, limits);
  if (std::string wrong = plugin->start(); !wrong.empty()) return refuse(std::move(wrong));
  return {std::move(plugin), {}};
}

template class PluginOf<ModuleController>;
template class PluginOf<PlantController>;
template scenarios::Result<std::shared_ptr<Plugin>> open_plugin<ModuleController>(const std::string&,
                                                                                  const ctl_params&,
                                                                                  const PluginLimits&);
template scenarios::Result<std::shared_ptr<PluginOf<PlantController>>> open_plugin<PlantController>(
    const std::string&, const ctl_plant_params&, const PluginLimits&);

}  // namespace duskline::harness
