/// The controllers of a plant, by module.
///
/// What it is   the link to the controller of each module; where none is given it is the controller of this program
/// Validity     a plant with apertures is module 1. Between headers the plant controller runs in this program and is the
///              operator of all module controllers, wherever they run
/// Left out     a plant controller in another program
#pragma once

#include <memory>
#include <span>
#include <string>
#include <vector>

#include "hil-harness/links/link.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

class Controllers {
 public:
  /// All in this program.
  Controllers() = default;
  /// Of module 1; it must outlive the run.
  Controllers(Link& only) { set(0, {std::shared_ptr<void>(), &only}); }  // a single controller is all of them

  void set(std::size_t module, std::shared_ptr<Link> link);
  /// Modules are counted from 0; null: its controller is in this program.
  std::shared_ptr<Link> of(std::size_t module) const;
  /// Requests that had to be sent again.
  int repeated() const;

 private:
  std::vector<std::shared_ptr<Link>> links_;
};

/// "KIND:ADDRESS" (open_link.hpp) opens one controller for each module, "3=KIND:ADDRESS" that of module 3, counted from 1.
/// A problem names the text.
scenarios::Result<Controllers> open_controllers(std::span<const std::string> names, const ctl_params& params,
                                                std::size_t modules);

/// What a run was controlled by, for its summary: "plug-in mine.so", "module 3: Modbus client"; empty: our own
/// controller, wherever it runs.
std::string foreign_controllers(std::span<const std::string> names);

/// One of them is a line or a port that one run has to itself.
bool one_at_a_time(std::span<const std::string> names);

/// As one text: what a file of runs belongs to.
std::string joined(std::span<const std::string> names);

}  // namespace duskline::harness
