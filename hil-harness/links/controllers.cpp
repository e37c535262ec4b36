#include "hil-harness/links/controllers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <map>
#include <optional>

#include "hil-harness/links/open_link.hpp"
#include "scenarios/reader/draw.hpp"
#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::harness {
namespace {

constexpr std::string_view kPlant = "plant";

/// "3=plugin:./mine.so" in two; all of it is the link where neither a number nor "plant" stands before a '='.
struct NamedLink {
  std::string_view target, link;
};
NamedLink parts_of(std::string_view name) {
  const std::size_t equal = name.find('=');
  if (equal == std::string_view::npos || equal == 0) return {{}, name};
  const std::string_view target = name.substr(0, equal);
  if (target != kPlant && target.find_first_not_of("0123456789") != std::string_view::npos) return {{}, name};
  return {target, name.substr(equal + 1)};
}

/// From 0; nothing when there is no such module.
std::optional<std::size_t> place_of(std::string_view number, std::size_t modules) {
  std::size_t n = 0;
  const auto read = std::from_chars(number.data(), number.data() + number.size(), n);
  if (read.ec != std::errc() || n < 1 || n > modules) return std::nullopt;
  return n - 1;
}

}  // namespace

void Controllers::set(std::size_t module, std::shared_ptr<Link> link) {
  if (links_.size() <= module) links_.resize(module + 1);
  links_[module] = std::move(link);
}

std::shared_ptr<Link> Controllers::of(std::size_t module) const {
  return module < links_.size() ? links_[module] : nullptr;
}

int Controllers::repeated() const {
  int sum = plant_ ? plant_->repeated() : 0;
  for (const auto& link : links_) sum += link ? link->repeated() : 0;
  return sum;
}

scenarios::Result<Controllers> open_controllers(std::span<const std::string> names,
                                                const scenarios::Case& c) {
  const std::size_t modules = c.plant.parameters.form.modules;
  const auto built = scenarios::drawn_plant(c.plant, c.scenario.plant_draw, c.scenario.structure_draw);
  Controllers controllers;
  std::vector<scenarios::Problem> problems;
  std::map<std::string, std::string> given;  // by which text, for each that has one
  const auto refuse = [&](const std::string& name, std::string message) {
    problems.push_back({"--link", 1, 1, name, std::move(message)});
  };
  const auto is_first = [&](const std::string& target, const std::string& name) {
    const auto [before, first] = given.emplace(target, name);
    if (!first)
      refuse(name, fmt::format("the controller of {} is given by '{}' already", target, before->second));
    return first;
  };
  /// The controller, unless there is a problem.
  const auto opened_by = [&](auto opened) {
    problems.insert(problems.end(), opened.problems.begin(), opened.problems.end());
    return opened ? std::move(*opened.value) : nullptr;
  };
  const auto open = [&](const std::string& name, std::string_view link, std::size_t module) {
    if (!is_first(fmt::format("module {}", module + 1), name)) return;
    controllers.set(
        module, opened_by(open_link(std::string(link), scenarios::module_controller_of(c, built, module))));
  };
  const auto open_plant = [&](const std::string& name, std::string_view link) {
    if (!plant::has_headers(c.plant.parameters.form))
      return refuse(name, "this plant has no plant controller; give the link alone");
    if (!is_first("the plant", name)) return;
    controllers.set_plant(opened_by(
        open_link<PlantController>(std::string(link), scenarios::plant_controller_of(built, c.scenario))));
  };
  for (const std::string& name : names) {
    const NamedLink part = parts_of(name);
    if (part.target == kPlant) {
      open_plant(name, part.link);
    } else if (!part.target.empty()) {
      if (const auto module = place_of(part.target, modules))
        open(name, part.link, *module);
      else
        refuse(name, modules == 1
                         ? "the plant has one module: the link alone, or 1=LINK"
                         : fmt::format("there is no module {}; expected 1 to {}", part.target, modules));
    } else if (modules > 1 && one_at_a_time(name)) {
      refuse(name,
             fmt::format(
                 "a line or a port has one controller, and the plant has {} modules: name it, such as "
                 "3={} or plant={}; more than one --link may be given, the others are controlled in this "
                 "program",
                 modules, name, name));
    } else {
      for (std::size_t n = 0; n < modules && problems.empty(); ++n) open(name, part.link, n);
    }
  }
  if (!problems.empty()) return {std::nullopt, std::move(problems)};
  return {std::move(controllers), {}};
}

std::string foreign_controllers(std::span<const std::string> names) {
  std::string text;
  for (const std::string& name : names) {
    const NamedLink part = parts_of(name);
    const std::string who = foreign_controller(std::string(part.link));
    if (who.empty()) continue;
    if (!text.empty()) text += ", ";
    text += part.target.empty()     ? who
            : part.target == kPlant ? fmt::format("plant controller: {}", who)
                                    : fmt::format("module {}: {}", part.target, who);
  }
  return text;
}

bool one_at_a_time(std::span<const std::string> names) {
  return std::any_of(names.begin(), names.end(),
                     [](const std::string& name) { return one_at_a_time(std::string(parts_of(name).link)); });
}

bool all_inside(std::span<const std::string> names) {
  return std::all_of(names.begin(), names.end(),
                     [](const std::string& name) { return parts_of(name).link == "in-process"; });
}

std::string joined(std::span<const std::string> names) {
  return fmt::format("{}", fmt::join(names, " "));
}

}  // namespace duskline::harness
