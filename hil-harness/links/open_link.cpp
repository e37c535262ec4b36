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

OpenedLink in_process(const std::string&, const ctl_params& params) {
  return {std::make_shared<InProcess>(params), {}};
}

/// A link of any kind as one of the common kind.
template <class T>
OpenedLink as_link(scenarios::Result<std::shared_ptr<T>> opened) {
  if (!opened) return {std::nullopt, std::move(opened.problems)};
  return {std::move(*opened.value), {}};
}

constexpr std::array kKinds{
    LinkKind{"in-process", "", "the controller of this program", in_process},
    LinkKind{"plugin", "FILE", "a shared object with a controller of your own",
             [](const std::string& at, const ctl_params& p) { return as_link(open_plugin(at, p)); }},
    LinkKind{"serial", "DEVICE[@BAUD] or tcp:HOST:PORT", "a controller that answers frames on a serial line",
             [](const std::string& at, const ctl_params& p) { return as_link(open_serial(at, p)); }},
    LinkKind{"modbus", "HOST:PORT", "a controller that connects to this address by Modbus TCP",
             [](const std::string& at, const ctl_params& p) { return as_link(open_modbus(at, p.period)); }},
    LinkKind{"emulator", "IMAGE", "the controller's image in an emulator of its board",
             [](const std::string& at, const ctl_params& p) { return as_link(open_emulator(at, p)); }},
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

OpenedLink open_link(const std::string& name, const ctl_params& params) {
  const auto refuse = [](std::string message) -> OpenedLink {
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
    return kind.open(address, params);
  }
  return refuse("'" + word + "' is no kind of link" + scenarios::did_you_mean(word, words) + "; expected " +
                link_forms());
}

}  // namespace duskline::harness
