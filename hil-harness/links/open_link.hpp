/// The ways to a controller, one row each, and the way to name one: KIND or KIND:ADDRESS.
#pragma once

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <tuple>

#include "hil-harness/links/link.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

template <class C>
using OpenedLink = scenarios::Result<std::shared_ptr<LinkOf<C>>>;

/// Opens a link and starts its controller; a problem names the address and says what is wrong.
template <class C>
using OpenLink = OpenedLink<C> (*)(const std::string& address, const typename C::Params& params);

struct LinkKind {
  std::string_view word;
  std::string_view address;  ///< what stands behind the colon; empty: nothing
  std::string_view meaning;
  std::tuple<OpenLink<ModuleController>, OpenLink<PlantController>> open;
};

std::span<const LinkKind> link_kinds();

/// "in-process", "plugin:./mine.so", "serial:tcp:127.0.0.1:7000", "emulator:board.elf", ...
template <class C = ModuleController>
OpenedLink<C> open_link(const std::string& name, const typename C::Params& params);

/// What a run by this link was controlled by, for its summary: "plug-in mine.so", "Modbus client"; empty: our own
/// controller, wherever it runs.
std::string foreign_controller(const std::string& name);

/// A line or a port that one controller, and so one run, has to itself.
bool one_at_a_time(const std::string& name);

/// How a link may be named, for a message or a help: "in-process | plugin:FILE | ...".
std::string link_forms();

}  // namespace duskline::harness
