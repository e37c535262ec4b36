/// The controllers of a plant: of each module, and above them the plant controller.
///
/// What it is   the link to each of them; where none is given it is the controller of this program
/// Validity     a plant with apertures is module 1. Between headers the plant controller is the operator of all module
///              controllers, wherever they run
#pragma once

#include <memory>
#include <span>
#include <string>
#include <vector>

#include "hil-harness/links/link.hpp"
#include "scenarios/reader/scenario_file.hpp"

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
  void set_plant(std::shared_ptr<PlantLink> link) { plant_ = std::move(link); }
  std::shared_ptr<PlantLink> of_plant() const { return plant_; }
  /// Requests that had to be sent again.
  int repeated() const;

 private:
  std::vector<std::shared_ptr<Link>> links_;
  std::shared_ptr<PlantLink> plant_;
};

/// "KIND:ADDRESS" (open_link.hpp) opens one controller for each module, "3=KIND:ADDRESS" that of module 3, counted from 1,
/// "plant=KIND:ADDRESS" the plant controller. A problem names the text.
scenarios::Result<Controllers> open_controllers(std::span<const std::string> names, const scenarios::Case& c);

/// What a run was controlled by, for its summary: "plug-in mine.so", "module 3: Modbus client", "plant controller: ..."; empty: our own
/// controller, wherever it runs.
std::string foreign_controllers(std::span<const std::string> names);

/// One of them is a line or a port that one run has to itself.
bool one_at_a_time(std::span<const std::string> names);

/// All controllers are those of this program, whose memory it can keep.
bool all_inside(std::span<const std::string> names);

/// As one text: what a file of runs belongs to.
std::string joined(std::span<const std::string> names);

}  // namespace duskline::harness
