/// What people do during a run, as a file that replays: requests, actions on alarms, faults and changes that an
/// instructor brings in, causes that the operator names, and notes.
///
/// What it is   the lists of a scenario in the scenario's own words, each in the order of time; what a request leaves
///              out stays as it was at that instant
/// Validity     an act is carried out at the first tick that is not before its time; at one tick the acts of a scenario
///              come before those of people
/// Left out     who acted, except where the text of a note says so
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/reader/problem.hpp"
#include "scenarios/reader/scenario.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

inline constexpr std::string_view kActsFormat = "duskline-acts/1";
inline constexpr double kAsItWas = -1.0;

struct OperatorRequest {
  double at{};                     ///< s
  int mode{-1};                    ///< ctl_mode; -1: as it was
  double oxygen_demand{kAsItWas};  ///< kg/s
  double power_ceiling{kAsItWas};  ///< W; NaN: none
  int module{-1};                  ///< from 0, that `service` is about; -1: none
  int service{CTL_SERVICE_IN};     ///< ctl_service
};

/// The end of a fault: one of the scenario where it acts or is still to come, one of these acts where it acts or
/// waits for its condition. In a training session one of these acts that is still to come is taken out of them.
struct FaultClearing {
  double at{};  ///< s
  std::string fault;
  int item{-1};               ///< from 0; -1: all
  int module{-1};             ///< from 0; -1: all
  std::uint64_t withdrawn{};  ///< how many it has taken out of these acts
};
bool is_meant(const FaultClearing& clearing, const plant::FaultEvent& fault);

struct NamedCause {
  double at{};  ///< s
  int cause{};  ///< bit of ctl_diagnosis
};

struct PersonNote {
  double at{};  ///< s
  std::string by, text;
};

struct Acts {
  std::vector<OperatorRequest> requests;
  std::vector<AlarmAction> operator_actions;
  std::vector<Event> events;
  std::vector<plant::FaultEvent> faults;
  std::vector<FaultClearing> cleared;
  std::vector<NamedCause> causes;
  std::vector<PersonNote> notes;
};

/// Conditions of faults are checked where `signals` are given, the names that they may use.
Result<Acts> read_acts(const std::filesystem::path& path, std::span<const TraceSignal> signals = {});
/// The same from memory; `name` stands in messages.
Result<Acts> parse_acts(std::string_view text, const std::string& name);
/// A text that reads back to the same acts.
std::string write_acts(const Acts& acts);

/// Puts an act behind those of the same time and before later ones.
template <class Act>
void insert_act(std::vector<Act>& acts, Act act) {
  auto place = acts.end();
  while (place != acts.begin() && std::prev(place)->at > act.at) --place;
  acts.insert(place, std::move(act));
}

}  // namespace duskline::scenarios
