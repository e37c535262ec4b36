#include "hil-harness/links/open_link.hpp"
#include <fmt/format.h>

#include <array>
#include <filesystem>

#include "hil-harness/links/emulator.hpp"
#include "hil-harness/links/modbus.hpp"
#include "hil-harness/links/plugin.hpp"
#include "hil-harness/links/serial.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

/// A link of any kind as one of the common kind.
template <class C, class T>
OpenedLink<C> as_link(scenarios::Result<std::shared_ptr<T>> opened) {
  if (!opened) return {std::nullopt, std::move(opened.problems)};
  return {std::move(*opened.value), {}};
}

template <class C>
OpenedLink<C> in_process(const std::string&, const typename C::Params& p) {
  return {std::make_shared<InProcessOf<C>>(p), {}};
}
template <class C>
OpenedLink<C> plugin(const std::string& at, const typename C::Params& p) {
  return as_link<C>(open_plugin<C>(at, p));
}
template <class C>
OpenedLink<C> serial(const std::string& at, const typename C::Params& p) {
  return as_link<C>(open_serial<C>(at, p));
}
template <class C>
OpenedLink<C> modbus(const std::string& at, const typename C::Params& p) {
  return as_link<C>(open_modbus<C>(at, p.period));
}
template <class C>
OpenedLink<C> emulator(const std::string& at, const typename C::Params& p) {
  return as_link<C>(open_emulator<C>(at, p));
}

constexpr std::array kKinds{
    LinkKind{"in-process",
             "",
             "the controller of this program",
             {in_process<ModuleController>, in_process<PlantController>}},
    LinkKind{"plugin",
             "FILE",
             "a shared object with a controller of your own",
             {plugin<ModuleController>, plugin<PlantController>}},
    LinkKind{"serial",
             "DEVICE[@BAUD] or tcp:HOST:PORT",
             "a controller that answers frames on a serial line",
             {serial<ModuleController>, serial<PlantController>}},
    LinkKind{"modbus",
             "HOST:PORT",
             "a controller that connects to this address by Modbus TCP",
             {modbus<ModuleController>, modbus<PlantController>}},
    LinkKind{"emulator",
             "IMAGE",
             "the controller's image in an emulator of its board",
             {emulator<ModuleController>, emulator<PlantController>}},
};

}  // namespace

std::span<const LinkKind> link_kinds() {
  return kKinds;
}

std::string foreign_controller(const std::string& name) {
  const std::size_t colon = name.find(':');
  const std::string word = name.substr(0, colon);
  if (word == "plugin") return "plug-in " + std::filesystem::path(name.substr(colon + 1)).filename().string();
  if (word == "modbus") return "Modbus client";
  if (word == "serial") return "controller on a serial line";
  return {};
}

bool one_at_a_time(const std::string& name) {
  return name.starts_with("serial:") || name.starts_with("modbus:");
}

std::string link_forms() {
  std::string text;
  for (const LinkKind& kind : kKinds) {
    text += (text.empty() ? "" : " | ") + std::string(kind.word);
    if (!kind.address.empty()) text += ":" + std::string(kind.address);
  }
  return text;
}

template <class C>
OpenedLink<C> open_link(const std::string& name, const typename C::Params& params) {
  const auto refuse = [](std::string message) -> OpenedLink<C> {
    return {std::nullopt, {{"--link", 1, 1, "", std::move(message)}}};
  };
  const std::size_t colon = name.find(':');
  const std::string word = name.substr(0, colon);
  std::vector<std::string> words;
  for (const LinkKind& kind : kKinds) {
    words.emplace_back(kind.word);
    if (word != kind.word) continue;
    const std::string address = colon == std::string::npos ? "" : name.substr(colon + 1);
    if (kind.address.empty() && colon != std::string::npos)
      return refuse(fmt::format("'{}' takes no address", word));
    if (!kind.address.empty() && address.empty())
      return refuse(fmt::format("'{0}' needs an address: {0}:{1}", word, kind.address));
    return std::get<OpenLink<C>>(kind.open)(address, params);
  }
  return refuse("'" + word + "' is no kind of link" + scenarios::did_you_mean(word, words) + "; expected " +
                link_forms());
}

template OpenedLink<ModuleController> open_link<ModuleController>(const std::string&, const ctl_params&);
template OpenedLink<PlantController> open_link<PlantController>(const std::string&, const ctl_plant_params&);

}  // namespace duskline::harness
