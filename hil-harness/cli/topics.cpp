#include "hil-harness/cli/topics.hpp"

#include <fmt/format.h>

#include <cmath>

#include "hil-harness/campaign/campaign_file.hpp"
#include "hil-harness/cli/alarm_topic.hpp"
#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/exit_codes.hpp"
#include "hil-harness/cli/library_topic.hpp"
#include "hil-harness/loop/signals.hpp"
#include "hil-harness/loop/words.hpp"
#include "plant-model/environment/site.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "plant-model/integrate/run_end.hpp"
#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/instruments.hpp"
#include "scenarios/reader/quantity.hpp"

namespace duskline::harness {
namespace {

using scenarios::PlantFile;

Table of_rows(const std::vector<scenarios::Row>& rows, const char* value_head) {
  Table t{{"path", "unit", value_head, "allowed", "meaning", "source"}, {}};
  for (const auto& r : rows) {
    nlohmann::ordered_json more{{"required", r.required}};
    if (std::isfinite(r.lower)) more["lower"] = r.lower;
    if (std::isfinite(r.upper)) more["upper"] = r.upper;
    t.rows.push_back({{r.path, r.unit, r.required && r.value.empty() ? "(required)" : r.value, r.allowed,
                       r.meaning, r.source},
                      std::move(more)});
  }
  return t;
}

Table of_plant(const PlantFile& plant) {
  return of_rows(scenarios::describe_plant_parameters(plant), "value");
}
Table of_controller(const PlantFile&) {
  return of_rows(scenarios::describe_controller_parameters(), "default");
}
Table of_plant_controller(const PlantFile&) {
  return of_rows(scenarios::describe_plant_controller_parameters(), "default");
}
Table of_scenario(const PlantFile&) {
  return of_rows(scenarios::describe_scenario_keys(), "default");
}

/// "module (6), cell (8)"
std::string axis_of(const SignalInfo& i) {
  std::string text = i.modules > 0 ? fmt::format("module ({})", i.modules) : "";
  if (!i.axis.empty()) text += fmt::format("{}{} ({})", text.empty() ? "" : ", ", i.axis, i.places());
  return text;
}

Table of_signals(const PlantFile& plant) {
  Table t{{"name", "unit", "axis", "group", "meaning", "words"}, {}};
  const plant::PlantForm& form = plant.parameters.form;
  for (const Signal& s : signal_table(plant::has_headers(form) ? form.modules : 0)) {
    const SignalInfo& i = s.info;
    std::string words;
    for (std::size_t n = 0; n < i.flags.size(); ++n)
      words += fmt::format("{}{} {}", n > 0 ? ", " : "", i.masks ? 1U << n : n, i.flags[n]);
    t.rows.push_back({{i.name, i.unit, axis_of(i), i.group, i.meaning, words},
                      {{"width", i.width}, {"flags", i.flags}, {"masks", i.masks}}});
  }
  return t;
}

std::string scope_of(plant::FaultScope scope) {
  if (scope == plant::FaultScope::module) return "module";
  return scope == plant::FaultScope::shared ? "plant" : "plant with headers";
}

/// What a fault acts on, in words.
std::string target_of(const plant::FaultRow& r) {
  using plant::FaultEffect;
  const char* in_plant = r.scope == plant::FaultScope::headers ? "plant_" : "";
  switch (r.effect) {
    case FaultEffect::scale:
      return fmt::format("plant.{}, times the size", r.target);
    case FaultEffect::set:
      return fmt::format("plant.{}, becomes the size", r.target);
    case FaultEffect::add:
      return fmt::format("plant.{}, plus the size", r.target);
    case FaultEffect::sensor:
      return fmt::format("reading of {}{}", in_plant, r.target);
    case FaultEffect::swap:
      return fmt::format("readings of {}, the item and the next", r.target);
    case FaultEffect::actuator:
      return fmt::format("command {}{}", in_plant, r.target);
    case FaultEffect::wire:
      return "frames between plant and controller";
    default:
      return std::string(r.component);
  }
}

std::string course_of(const plant::FaultRow& r) {
  using plant::FaultCourse, plant::FaultShape;
  const std::string length = std::isnan(r.length) ? "" : fmt::format(" for {:.0f} s", r.length);
  if (r.course == FaultCourse::once) return "at an instant";
  if (r.course == FaultCourse::growing) return fmt::format("rises in {:.0f} s", r.rise);
  if (r.course == FaultCourse::passing) return fmt::format("passes in {:.0f} s", r.length);
  return (r.shape == FaultShape::step ? "step" : fmt::format("ramp of {:.0f} s", r.rise)) + length;
}

Table of_faults(const PlantFile&) {
  Table t{
      {"fault", "component", "mode", "acts on", "size", "range", "item", "course", "of", "function", "cause",
       "local effect", "end effect", "seen by", "provision", "severity", "rationale", "may stay unseen"},
      {}};
  for (const plant::FaultRow& r : plant::fault_table()) {
    const auto& f = r.study;
    const std::size_t items = scenarios::fault_items(r);
    t.rows.push_back({{std::string(r.name), std::string(r.component), std::string(r.mode), target_of(r),
                       r.has_size() ? scenarios::write_quantity(r.size, r.unit) : "",
                       r.has_size() ? scenarios::write_range(r.lower, r.upper, r.unit) : "",
                       items > 0 ? fmt::format("{} of 1 to {}", r.item + 1, items) : "", course_of(r),
                       scope_of(r.scope), std::string(f.function), std::string(f.cause), std::string(f.local),
                       std::string(f.end), std::string(f.seen), std::string(f.provision),
                       std::to_string(f.severity), std::string(f.rationale), std::string(r.unseen)},
                      {{"unit", r.unit}, {"size", r.size}, {"items", items}, {"diagnosis", r.diagnosis}}});
  }
  return t;
}

Table of_modes(const PlantFile&) {
  Table t{{"word", "kind", "number", "meaning"}, {}};
  const auto add = [&t](std::span<const ListWord> list, const char* kind, bool bits) {
    for (std::size_t n = 0; n < list.size(); ++n)
      t.rows.push_back({{std::string(list[n].word), kind, std::to_string(bits ? std::size_t{1} << n : n),
                         std::string(list[n].meaning)}});
  };
  add(mode_words(), "mode", false);
  add(law_words(), "law", false);
  add(limiter_words(), "limiter", false);
  add(condition_words(), "condition", true);
  add(response_words(), "response", false);
  add(diagnosis_words(), "diagnosis", true);
  add(residual_words(), "residual", true);
  return t;
}

Table of_instruments(const PlantFile& file) {
  Table t{{"name", "channels", "unit", "lag", "noise", "bias class", "span", "meaning", "source"}, {}};
  for (const auto& r : file.instruments)
    t.rows.push_back({{std::string(r.spec.name), std::to_string(r.count), std::string(r.spec.unit),
                       fmt::format("{:.3g} s", r.spec.lag), fmt::format("{:.3g}", r.spec.noise),
                       fmt::format("{:.3g}", r.spec.bias_class),
                       fmt::format("[{:.4g}, {:.4g}]", r.spec.lower, r.spec.upper), std::string(r.meaning),
                       std::string(r.source)}});
  return t;
}

Table of_sites(const PlantFile&) {
  constexpr double kDegrees = 57.29577951308232;
  Table t{{"name", "latitude", "longitude east", "altitude above the areoid"}, {}};
  for (const auto& s : plant::kSites)
    t.rows.push_back(
        {{std::string(s.name), fmt::format("{:.1f} deg", s.latitude * kDegrees),
          fmt::format("{:.1f} deg", s.longitude * kDegrees), fmt::format("{:.0f} m", s.altitude)}});
  return t;
}

Table of_ends(const PlantFile&) {
  Table t{{"end", "meaning"}, {}};
  for (const auto& e : plant::kRunEnds) t.rows.push_back({{std::string(e.word), std::string(e.meaning)}});
  return t;
}

Table of_exit_codes(const PlantFile&) {
  Table t{{"code", "word", "meaning"}, {}};
  for (const auto& e : kExitCodes)
    t.rows.push_back({{std::to_string(e.code), std::string(e.word), std::string(e.meaning)}});
  return t;
}

Table of_command_line(const PlantFile&) {
  Table t{{"words", "meaning", "example"}, {}};
  for (const Verb& verb : verb_table()) {
    t.rows.push_back({{std::string(verb.name), std::string(verb.what), fmt::format("`{}`", verb.example)}});
    for (const Option& o : verb.declare().options) {
      const std::string value = o.by_place() || o.value.empty() ? "" : " " + o.value;
      t.rows.push_back({{fmt::format("{} {}{}", verb.name, o.name, value), o.meaning, ""}});
    }
  }
  return t;
}

Table of_campaign(const PlantFile&) {
  Table t{{"table", "column", "unit", "meaning"}, {}};
  for (const CampaignColumn& c : campaign_columns()) t.rows.push_back({{c.table, c.name, c.unit, c.meaning}});
  return t;
}

constexpr Topic kTopics[] = {
    {"plant", "parameters.md", "Parameters of the plant", "every parameter of a plant, its value and source",
     "Values, plausible ranges and sources of the demo plant `bench`. A scenario changes them with "
     "`plant_overrides` or `events`, the command line with `--set plant.PATH=VALUE`. Sources that begin with "
     "*estimate* are just that.",
     of_plant},
    {"controller", "controller-parameters.md", "Parameters of the controller",
     "every parameter of the controller, its default and source",
     "Set below `controller.parameters` in a scenario, in a controller file, or with `--set "
     "controller.parameters.NAME=VALUE`.",
     of_controller},
    {"plant-controller", "plant-controller-parameters.md", "Parameters of the plant controller",
     "every parameter of the controller of what modules share, its default and source",
     "Set below `plant_controller.parameters` in a scenario or a controller file, or with `--set "
     "plant_controller.parameters.NAME=VALUE`, for a plant whose modules stand between headers. Where one is "
     "left "
     "out, the default holds, or what follows from the sizes of the plant: speeds, capacities of valves and "
     "the "
     "surge line.",
     of_plant_controller},
    {"signals", "signals.md", "Signals", "every signal of a trace",
     "The variables of `trace.nc`, in the units of the file. Signals with an axis hold one value for each "
     "place along it. Words are stored as the numbers beside them; in `unmet_permissives` and `tripped` the "
     "numbers of all words that apply are added up.",
     of_signals},
    {"faults", "faults.md", "Faults", "every fault, and how a scenario injects it",
     "A scenario injects a fault with the key `faults`, `faults: - {at: 2 h, fault: seal-leak, size: 60}`; "
     "what is left out has the value listed here. The controller does not know of it. A step acts at once, a "
     "ramp "
     "rises and stays, a pulse rises and falls; `length` ends a fault, and what it changed then returns "
     "exactly. Heaters, drive and converter are off below 16 V of the bus, the controller below 9 V. Any "
     "plant parameter can also be changed permanently with `events`. By itself the cell with the least coke "
     "margin cracks (`stack.crack_size`) when zones differ by more than `stack.crack_gradient` or the sides "
     "by more than `stack.crack_pressure`. Severity: 1 loss of the stack, 2 lasting damage, 3 oxygen lost, 4 "
     "a nuisance; sizes, causes and severities are estimates.",
     of_faults},
    {"scenario", "scenario-format.md", "", "every key of a scenario", "", of_scenario},
    {"modes", "modes.md", "Modes, laws, limiters and conditions", "the words of the controller",
     "The words of the controller, with the numbers that stand for them in traces and on links.", of_modes},
    {"alarms", "alarms.md", "Alarms", "every alarm with its rationale",
     "The rationalisation sheet: what each alarm means and what is to be done. An alarm asks a person for an "
     "action; what needs no action is an event. Priority follows from severity and time to respond. None is "
     "urgent: what cannot wait three minutes is an interlock. How to answer them: "
     "`docs/how-to/answer-alarms.md`.",
     alarm_table},
    {"instruments", "instruments.md", "Instruments", "every instrument, its errors and span",
     "What the controller reads instead of the true values. Lag is a time constant; noise a standard "
     "deviation; the error of class is drawn once a run. Units are those of the row.",
     of_instruments},
    {"sites", "sites.md", "Sites", "the places where a plant can stand",
     "Three invented places, for the key `site` of a scenario.", of_sites},
    {"library", "library.md", "Library of scenarios", "every scenario that ships",
     "The files of `scenarios/library`, each with what it is for. `duskline verify scenarios/library` runs "
     "and judges them; what they have in common is described in `docs/explain/the-library.md`, what they "
     "catch in `docs/reference/mutation-check.md`.",
     library_table},
    {"campaign", "campaign-file.md", "The file of a campaign", "the tables and columns of a campaign's file",
     "`duskline campaign` keeps `campaign.db` in its folder: SQLite, a row of `runs` for each run and law, "
     "written "
     "when the run is over. It may be read while the campaign runs, `sqlite3 -readonly campaign.db \"SELECT "
     "law, "
     "count(*), min(coke_margin) FROM runs GROUP BY law\"`. A figure that a run did not come to is NULL. "
     "`runs.csv` "
     "beside it holds the same rows by run and law, with a column for each input in place of `draws`: the "
     "same bytes "
     "whatever the number of workers and of sittings. Left out: power that fails while a disk still holds "
     "back what "
     "it was given.",
     of_campaign},
    {"ends", "run-ends.md", "How a run can end", "the ways in which a run ends",
     "Every run ends with exactly one of these; it stands in `summary.json` and in the report. Only the "
     "first is a complete run.",
     of_ends},
    {"command-line", "command-line.md", "Command line", "every verb and option",
     "Problems with the words of the command line are located as `command line:1:COLUMN`, those of a setting "
     "as `--set:N:COLUMN`, N the N-th setting. Options take their value after a blank or after `=`.",
     of_command_line},
    {"exit-codes", "exit-codes.md", "Exit codes", "what the exit codes mean",
     "A closed pipe, as with `| head`, changes none of them. `verify` runs what it can read even when it "
     "refuses some scenarios (2), and gives 1 also for a result that has no accepted one. Precedence: "
     "interrupted, then 2, 3, 1.",
     of_exit_codes},
};

}  // namespace

std::span<const Topic> topics() {
  return kTopics;
}

const Topic* find_topic(std::string_view word) {
  for (const Topic& topic : kTopics)
    if (topic.word == word) return &topic;
  return nullptr;
}

Table topic_table() {
  Table t{{"topic", "page", "shows"}, {}};
  for (const Topic& topic : kTopics)
    t.rows.push_back({{std::string(topic.word), std::string(topic.page), std::string(topic.shows)}});
  return t;
}

std::string page_of(const Topic& topic, const PlantFile& plant) {
  if (topic.title.empty()) return scenarios::scenario_reference();  // has a page with prose of its own
  return fmt::format(
      "# {}\n\nThis page is written by `duskline describe {} --markdown`. Do not edit it.\n\n{}\n\n{}",
      topic.title, topic.word, topic.about, to_markdown(topic.table(plant)));
}

}  // namespace duskline::harness
