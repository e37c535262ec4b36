/// What a console shows of a plant, walked from the dictionaries: signals in the units of people, commands, alarms, modes,
/// faults, and what the file of the console adds to them.
///
/// What it is   one list of shown signals; operators and observers are shown readings, commands and the controller's
///              estimates, instructors also what is true
/// Validity     items count from 1; what it says of a plant never changes in a session
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "hil-harness/loop/snapshot.hpp"
#include "hil-harness/trace/signal.hpp"
#include "scenarios/reader/console_file.hpp"
#include "scenarios/reader/scenario_file.hpp"
#include "scenarios/reader/units.hpp"

namespace duskline::harness {

enum class PersonRole { operate, instruct, observe };
std::string_view role_word(PersonRole role);
/// False: there is no such role.
bool read_role(std::string_view word, PersonRole& role);

struct ShownSignal {
  std::string name, title, text, kind, group, tag;
  std::string unit;                  ///< as people read it
  scenarios::Conversion to_shown{};  ///< from the unit of the dictionary
  double low{}, high{};              ///< of its span, shown; NaN: none
  double alarm_low{}, alarm_high{};  ///< limits of alarms, shown; NaN: none
  int digits{};
  std::size_t place{};  ///< among all values of a row
  int channel{-1};      ///< of a reading, whose quality is known; -1: none
  int module{-1};       ///< from 0, of several; -1: of no module
  bool shared{};        ///< `channel` is one of the plant controller
  std::string set;
  std::vector<std::string> alarms;  ///< that watch it
  std::vector<std::string> words;
};

/// An alarm of the one module, of the plant controller, or of one of its modules.
struct ShownAlarm {
  std::string name, title;
  std::string_view word, consequence, cause, response;
  double minutes{};
  std::uint32_t priority{};
  std::size_t number{};  ///< in its list
  int module{-1};        ///< from 0, of several; -1: of no module
};

/// A request that a button or a number makes.
struct ShownCommand {
  std::string name, title, text, unit;
  int mode{-1};          ///< of a button
  double low{}, high{};  ///< of a number, shown; SI is shown over the factor
  double factor{1.0};    ///< shown over SI
  bool none{};           ///< the number may be taken away
};

class ConsoleView {
 public:
  ConsoleView(const scenarios::Case& c, scenarios::ConsoleFile file, std::string name);

  const std::vector<ShownSignal>& signals() const { return signals_; }
  /// Places in signals() of what a role is shown, in order.
  const std::vector<std::size_t>& shown_to(PersonRole role) const;
  const std::vector<ShownCommand>& commands() const { return commands_; }
  const std::vector<ShownAlarm>& alarms() const { return alarms_; }
  std::uint8_t alarm_state(const Snapshot& s, const ShownAlarm& alarm) const;
  /// How many stand between headers; 0: one with apertures.
  std::size_t modules() const { return modules_; }
  const scenarios::ConsoleFile& file() const { return file_; }
  std::string plant_text(PersonRole role) const;
  static double shown(const ShownSignal& signal, double value);
  /// Takes what the controller estimates of coke out of a row of all values while the hottest zone, by thermocouples that
  /// are not suspect, is below kWatchedTemperature: there it means nothing.
  void leave_out_cold(const Snapshot& s, std::vector<double>& row) const;
  /// The controller takes the reading of a signal to be wrong.
  static bool is_suspect(const Snapshot& s, const ShownSignal& signal);

 private:
  void list_signals(const scenarios::Case& c);
  void add_signal(const scenarios::Case& c, std::size_t row, std::size_t item, std::size_t place);
  void list_commands(const scenarios::Case& c);
  nlohmann::ordered_json signals_json(PersonRole role) const;
  nlohmann::ordered_json commands_json() const;
  void list_alarms();
  /// How operators know a signal: "reading", "command" or "estimate"; "true": they do not.
  static std::string_view kind_of(const SignalInfo& info);
  void set_span(const scenarios::Case& c, std::string_view instrument, ShownSignal& s) const;
  void add_tags(const SignalInfo& info, std::size_t place, ShownSignal& s) const;
  nlohmann::ordered_json picture_json() const;
  nlohmann::ordered_json modules_json() const;
  nlohmann::ordered_json margins_json() const;
  nlohmann::ordered_json procedures_json() const;
  nlohmann::ordered_json exercise_json(const std::string& name, const std::string& title) const;

  const scenarios::Scenario& scenario_;
  std::vector<const plant::FaultRow*> faults_;  ///< that the plant can have
  scenarios::ConsoleFile file_;
  std::string name_;
  std::vector<ShownSignal> signals_;
  std::vector<std::size_t> near_, far_;
  std::vector<std::pair<std::size_t, std::size_t>> of_hot_cells_;  ///< place in a row, module
  std::vector<ShownCommand> commands_;
  std::vector<ShownAlarm> alarms_;
  std::size_t modules_;
};

/// "surge-margin-low" -> "Surge margin low".
std::string title_of_word(std::string_view word);
/// Limit of an alarm of a module, or else of the plant controller; NaN: it has none.
double alarm_limit(std::string_view word, bool of_module);

/// "zone_temperature_reading[3]" -> its parts; `#` in a text becomes the number.
std::string with_number(std::string text, std::size_t number);

}  // namespace duskline::harness
