#include "hil-harness/links/plugin.hpp"

#include <dlfcn.h>
#include <fmt/format.h>

#include <algorithm>
#include <cfenv>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <limits>
#include <vector>

#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr const char* kHowTo = "docs/how-to/write-your-own-controller.md shows how to build one";

constexpr int kNotCompleted = 3;  // exit code of the program: a run that could not be completed

thread_local const char* inside = nullptr;  ///< the plug-in whose code runs in this thread

/// A plug-in that ends the program must not make it look as if all were well. What was flushed is kept.
void refuse_exit() {
  if (inside == nullptr) return;
  std::fprintf(stderr, "not completed: the plug-in %s ended the program\n", inside);
  std::fflush(nullptr);
  std::_Exit(kNotCompleted);
}

/// Around every call into a plug-in. It may round as it likes (-ffast-math even changes it when the file is opened);
/// the plant may not. It may not end the program either.
class PluginCall {
 public:
  explicit PluginCall(const std::string& name) : outer_(inside) {
    static const bool registered = std::atexit(refuse_exit) == 0 && std::at_quick_exit(refuse_exit) == 0;
    static_cast<void>(registered);
    inside = name.c_str();
    std::fegetenv(&before_);
  }
  ~PluginCall() {
    std::fesetenv(&before_);
    inside = outer_;
  }
  PluginCall(const PluginCall&) = delete;
  PluginCall& operator=(const PluginCall&) = delete;

 private:
  const char* outer_;
  std::fenv_t before_{};
};

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

std::string status_words(ctl_status status) {
  return fmt::format("status {}, {}", static_cast<int>(status), word(status));
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

/// What the linker said, without the path that it begins with.
std::string linker_words(const std::string& path) {
  const char* said = dlerror();
  std::string text = said != nullptr ? said : "no reason given";
  if (text.starts_with(path + ": ")) text.erase(0, path.size() + 2);
  return text;
}

}  // namespace

class ControllerLibrary {
 public:
  explicit ControllerLibrary(const fs::path& path) : name(path.filename().string()) {
    // a name without a slash would be looked for among the libraries of the system
    const std::string whole = fs::absolute(path).string();
    const PluginCall call(name);
    handle_ = dlopen(whole.c_str(), RTLD_NOW | RTLD_LOCAL);
    if (handle_ == nullptr) {
      problem = linker_words(whole);
      return;
    }
    find(abi_version, "ctl_abi_version");
    find(init, "ctl_init");
    find(step, "ctl_step");
    retain = reinterpret_cast<decltype(retain)>(dlsym(handle_, "ctl_retain"));
    restart = reinterpret_cast<decltype(restart)>(dlsym(handle_, "ctl_restart"));
    state_layout = reinterpret_cast<decltype(state_layout)>(dlsym(handle_, "ctl_state_layout"));
  }
  ~ControllerLibrary() {
    const PluginCall call(name);
    if (handle_ != nullptr) dlclose(handle_);
  }
  ControllerLibrary(const ControllerLibrary&) = delete;
  ControllerLibrary& operator=(const ControllerLibrary&) = delete;

  bool opened() const { return handle_ != nullptr; }

  std::string name, problem, missing;
  decltype(&ctl_abi_version) abi_version{};
  decltype(&ctl_init) init{};
  decltype(&ctl_step) step{};
  decltype(&ctl_retain) retain{};              // null: it has none
  decltype(&ctl_restart) restart{};            // null: it has none
  decltype(&ctl_state_layout) state_layout{};  // null: it has none

 private:
  template <class Function>
  void find(Function& function, const char* symbol) {
    function = reinterpret_cast<Function>(dlsym(handle_, symbol));
    if (function == nullptr) missing += (missing.empty() ? "" : ", ") + std::string(symbol);
  }

  void* handle_{};
};

Plugin::Plugin(std::shared_ptr<const ControllerLibrary> library, const ctl_params& params)
    : library_(std::move(library)), params_(params) {
  const PluginCall call(library_->name);
  status_ = answer(library_->init(&state_, &params_));
}

ctl_status Plugin::answer(ctl_status status) {
  if (status != CTL_OK) error_ = fmt::format("{}: {}", library_->name, status_words(status));
  return status;
}

ctl_status Plugin::step(const ctl_inputs& in, ctl_outputs& out) {
  if (status_ != CTL_OK) return status_;
  out = {};
  constexpr float kNotMade = std::numeric_limits<float>::quiet_NaN();
#define NOT_MADE(name, unit, meaning) out.name = kNotMade;
#define NONE_MADE(name, count, unit, meaning) \
  for (float& x : out.name) x = kNotMade;
  CTL_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
#undef NOT_MADE
#undef NONE_MADE
  const PluginCall call(library_->name);
  if (answer(library_->step(&state_, &params_, &in, &out)) != CTL_OK) return status_ = CTL_BAD_ARGUMENT;
  if (const std::string what = unusable(out); !what.empty()) {
    error_ = fmt::format("{}: {}", library_->name, what);
    return status_ = CTL_BAD_ARGUMENT;
  }
  return CTL_OK;
}

ctl_status Plugin::restart(bool intact) {
  if (status_ != CTL_OK) return status_;
  const PluginCall call(library_->name);
  ctl_status status = CTL_NOT_RETAINED;
  if (library_->retain != nullptr && library_->restart != nullptr) {
    ctl_retained memory{};
    library_->retain(&state_, &memory);
    if (!intact) memory.checksum ^= 1u;
    status = library_->restart(&state_, &params_, &memory);
  } else if (const ctl_status fresh = library_->init(&state_, &params_); fresh != CTL_OK) {
    status = fresh;
  }
  if (status == CTL_OK || status == CTL_NOT_RETAINED) return status;
  answer(status);
  return status_ = CTL_BAD_ARGUMENT;
}

std::span<const ctl_field> Plugin::layout() const {
  if (library_->state_layout == nullptr) return {};
  const PluginCall call(library_->name);
  const ctl_field* fields = nullptr;
  const std::uint32_t count = library_->state_layout(&fields);
  return fields == nullptr ? std::span<const ctl_field>() : std::span(fields, count);
}

ctl_status Plugin::step_from(ctl_state& state, const ctl_params& params, const ctl_inputs& in,
                             ctl_outputs& out) const {
  const PluginCall call(library_->name);
  out = {};
  const ctl_status status = library_->step(&state, &params, &in, &out);
  return status == CTL_OK && !unusable(out).empty() ? CTL_BAD_ARGUMENT : status;
}

std::string unusable(const ctl_outputs& out) {
  std::string what;
  const auto number = [&what](float x, const char* name) {
    if (what.empty() && !std::isfinite(x)) what = fmt::format("{} is not a number", name);
  };
  const auto listed = [&what](std::uint32_t value, std::uint32_t count, const char* name) {
    if (what.empty() && value >= count) what = fmt::format("{} {} is not in the list", name, value);
  };
#define NUMBER(name, ...) number(out.name, #name);
#define NUMBERS(name, ...) \
  for (const float x : out.name) number(x, #name);
  CTL_OUTPUT_LIST(NUMBER, NUMBERS)
#undef NUMBER
#undef NUMBERS
  listed(out.mode, CTL_MODES, "mode");
  listed(out.limiter, CTL_LIMITERS, "limiter");
  listed(out.law, CTL_LAWS, "law");
  listed(out.response, CTL_RESPONSES, "response");
  listed(out.worst_cell, CTL_CELLS, "worst_cell");
  return what;
}

scenarios::Result<std::shared_ptr<Plugin>> open_plugin(const std::string& path, const ctl_params& params) {
  const auto refuse = [&path](std::string message) -> scenarios::Result<std::shared_ptr<Plugin>> {
    return {std::nullopt, {{"--link", 1, 1, path, std::move(message)}}};
  };
  std::error_code error;
  if (!fs::exists(path, error)) return refuse("there is no such file" + near_file(path));
  if (fs::is_directory(path, error)) return refuse("is a folder; a shared object is wanted");
  if (!fs::is_regular_file(path, error))
    return refuse("is no file; a shared object is wanted");  // a pipe has no end

  const auto library = std::make_shared<const ControllerLibrary>(path);
  if (!library->opened())
    return refuse(fmt::format("cannot be opened as a shared object ({}); {}", library->problem, kHowTo));
  if (!library->missing.empty())
    return refuse(
        fmt::format("has no {}; build it against controller/include/controller.h, in C++ inside "
                    "extern \"C\"",
                    library->missing));
  const std::uint32_t version = [&] {
    const PluginCall call(library->name);
    return library->abi_version();
  }();
  if (version != CTL_ABI_VERSION)
    return refuse(
        fmt::format("was built for version {} of the interface, this program speaks version {}; "
                    "build it again with this controller/include/controller.h",
                    version, CTL_ABI_VERSION));
  auto plugin = std::make_shared<Plugin>(library, params);
  if (plugin->status() != CTL_OK)
    return refuse(fmt::format("its ctl_init refuses the parameters of the scenario ({})",
                              status_words(plugin->status())));
  return {std::move(plugin), {}};
}

}  // namespace duskline::harness
