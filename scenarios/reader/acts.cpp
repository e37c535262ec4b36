#include "scenarios/reader/acts.hpp"

#include <algorithm>

#include "scenarios/reader/decode.hpp"
#include "scenarios/reader/plant_tree.hpp"
#include "scenarios/reader/scenario_check.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "scenarios/reader/write.hpp"

namespace duskline::scenarios {
namespace {

#define DUSKLINE_CAUSE(identifier, bit, word, response, meaning) {bit, word, meaning},
constexpr Word kCauses[] = {CTL_DIAGNOSIS_LIST(DUSKLINE_CAUSE)};
#undef DUSKLINE_CAUSE

constexpr Quantity kActTime{"s", 0.0, 3.2e9};

void request_keys(Keys& keys, OperatorRequest& r) {
  const bool all = keys.reads();
  keys.number({"at", "instant of the request", true}, kActTime, r.at);
  if (all || r.mode >= 0)
    keys.word({"mode", "mode asked for; as it was when left out"}, mode_choices(), r.mode);
  if (all || r.oxygen_demand >= 0.0)
    keys.number({"demand", "oxygen asked for; as it was when left out"}, kDemandRange, r.oxygen_demand);
  if (all || !(r.power_ceiling < 0.0))
    keys.number_or_none({"power_ceiling", "power that may be drawn, or none; as it was when left out"},
                        kCeilingRange, r.power_ceiling);
  module_request_keys(keys, r.module, r.service);
}

void clearing_keys(Keys& keys, FaultClearing& c) {
  keys.number({"at", "instant at which the fault is over", true}, kActTime, c.at);
  std::vector<std::string> names;
  for (const plant::FaultRow& row : plant::fault_table()) names.emplace_back(row.name);
  keys.choice({"fault", "name of the fault", true}, names, false, c.fault);
  if (keys.reads() || c.item >= 0)
    counted(keys, {"item", "which item of a list, counted from 1; all when left out"}, c.item);
  if (keys.reads() || c.module >= 0)
    counted(keys, {"module", "of which module, counted from 1; all when left out"}, c.module);
  if (keys.reads() || c.withdrawn > 0)
    keys.whole({"withdrawn", "how many faults that were still to come it has taken out of these acts"},
               c.withdrawn);
}

void acts_keys(Keys& keys, Acts& a) {
  const auto list = [&](const Key& key, auto& values, const auto& item) {
    if (keys.reads() || !values.empty()) keys.list(key, values, item);
  };
  list({"commands", "what the operator asks for"}, a.requests,
       [&](OperatorRequest& r, std::size_t) { request_keys(keys, r); });
  if (keys.reads() || !a.operator_actions.empty()) alarm_action_keys(keys, a.operator_actions);
  if (keys.reads() || !a.events.empty()) all_event_keys(keys, a.events);
  if (keys.reads() || !a.faults.empty()) all_fault_keys(keys, a.faults);
  list({"cleared", "faults that are ended"}, a.cleared,
       [&](FaultClearing& c, std::size_t) { clearing_keys(keys, c); });
  list({"causes", "causes that the operator names"}, a.causes, [&](NamedCause& c, std::size_t) {
    keys.number({"at", "instant at which it is named", true}, kActTime, c.at);
    keys.word({"cause", "a diagnosis of the controller's list", true}, kCauses, c.cause);
  });
  list({"notes", "notes of people"}, a.notes, [&](PersonNote& n, std::size_t) {
    keys.number({"at", "instant of the note", true}, kActTime, n.at);
    keys.text({"by", "who wrote it"}, n.by);
    keys.text({"text", "the note", true}, n.text);
  });
}

template <class Act>
void check_order(const std::vector<Act>& acts, const std::string& name, const Decoder& decoder,
                 Report& report) {
  for (std::size_t i = 1; i < acts.size(); ++i)
    check_rises(name + "[" + std::to_string(i + 1) + "].at", acts[i - 1].at, acts[i].at, decoder, report);
}

Result<Acts> decode_acts(std::optional<Node> root, int file, Report& report,
                         std::span<const TraceSignal> signals = {}) {
  Acts acts;
  if (root && take_format(*root, {file, 1, 1}, kActsFormat, report)) {
    Decoder decoder{*root, {file, 1, 1}, "", report};
    acts_keys(decoder, acts);
    decoder.finish();
    check_alarm_actions(acts.operator_actions, decoder, report);
    check_events(acts.events, decoder, report);
    check_faults(acts.faults, decoder, report, signals);
    check_order(acts.requests, "commands", decoder, report);
    check_order(acts.faults, "faults", decoder, report);
    check_order(acts.cleared, "cleared", decoder, report);
    check_order(acts.causes, "causes", decoder, report);
    check_order(acts.notes, "notes", decoder, report);
  }
  if (!report.clean()) return {std::nullopt, report.problems()};
  return {std::move(acts), {}};
}

}  // namespace

bool is_meant(const FaultClearing& c, const plant::FaultEvent& fault) {
  return fault.fault == c.fault && (c.item < 0 || fault.item == c.item) &&
         (c.module < 0 || fault.module == c.module);
}

Result<Acts> read_acts(const std::filesystem::path& path, std::span<const TraceSignal> signals) {
  Report report;
  const int file = report.open(path.string());
  const auto text = read_bytes(path, file, report);
  return decode_acts(text ? parse_tree(*text, file, report) : std::nullopt, file, report, signals);
}

Result<Acts> parse_acts(std::string_view text, const std::string& name) {
  Report report;
  const int file = report.open(name);
  return decode_acts(parse_tree(text, file, report), file, report);
}

std::string write_acts(const Acts& acts) {
  Writer writer;
  writer.raw("format", kActsFormat);
  Acts copy = acts;
  acts_keys(writer, copy);
  return writer.take();
}

}  // namespace duskline::scenarios
