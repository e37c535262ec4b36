#include "hil-harness/links/controllers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <optional>

#include "hil-harness/links/open_link.hpp"

namespace duskline::harness {
namespace {

/// "3=plugin:./mine.so" in two; all of it is the link where no number stands before a '='.
struct NamedLink {
  std::string_view number, link;
};
NamedLink parts_of(std::string_view name) {
  const std::size_t digits = std::min(name.find_first_not_of("0123456789"), name.size());
  if (digits == 0 || digits == name.size() || name[digits] != '=') return {{}, name};
  return {name.substr(0, digits), name.substr(digits + 1)};
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
  int sum = 0;
  for (const auto& link : links_) sum += link ? link->repeated() : 0;
  return sum;
}

scenarios::Result<Controllers> open_controllers(std::span<const std::string> names, const ctl_params& params,
                                                std::size_t modules) {
  Controllers controllers;
  std::vector<scenarios::Problem> problems;
  std::vector<std::string> given(modules);  // by which text
  const auto refuse = [&](const std::string& name, std::string message) {
    problems.push_back({"--link", 1, 1, name, std::move(message)});
  };
  const auto open = [&](const std::string& name, std::string_view link, std::size_t module) {
    if (!given[module].empty())
      return refuse(name,
                    fmt::format("module {} has its controller from '{}' already", module + 1, given[module]));
    given[module] = name;
    auto opened = open_link(std::string(link), params);
    problems.insert(problems.end(), opened.problems.begin(), opened.problems.end());
    if (opened) controllers.set(module, std::move(*opened.value));
  };
  for (const std::string& name : names) {
    const NamedLink part = parts_of(name);
    if (!part.number.empty()) {
      if (const auto module = place_of(part.number, modules))
        open(name, part.link, *module);
      else
        refuse(name, modules == 1
                         ? "the plant has one module: the link alone, or 1=LINK"
                         : fmt::format("there is no module {}; expected 1 to {}", part.number, modules));
    } else if (modules > 1 && one_at_a_time(name)) {
      refuse(name,
             fmt::format(
                 "a line or a port has one controller, and the plant has {} modules: say of which, such as "
                 "3={}; more than one --link may be given, the other modules are controlled in this program",
                 modules, name));
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
    text += part.number.empty() ? who : fmt::format("module {}: {}", part.number, who);
  }
  return text;
}

bool one_at_a_time(std::span<const std::string> names) {
  return std::any_of(names.begin(), names.end(),
                     [](const std::string& name) { return one_at_a_time(std::string(parts_of(name).link)); });
}

std::string joined(std::span<const std::string> names) {
  return fmt::format("{}", fmt::join(names, " "));
}

}  // namespace duskline::harness
