#include <fmt/format.h>

#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::scenarios {
namespace {

constexpr std::string_view kIntroduction = R"(# Scenario, plant and controller files

This page is generated from the lists that the reader itself uses. Do not edit it.

## How values are written
* A number carries its unit: `0.7 bar`, `800 degC`, `10 g/h`, `20 cm3`, `3500 rpm`, `180 deg`, `0.4 ohm cm2`.
  Any unit of UDUNITS-2 that fits the dimension will do. Pure numbers stand alone or with `%` or `ppm`.
* Durations may have several parts, `2 h 30 min`, from the largest unit to the smallest. A `sol` is 88775.244 s. Times
  count from the start of the run.
* A local time is given in `h` or `min`, 24 h to a sol, or as a clock shows it, `15:30`; never in `sol` or `s`.
* A difference of temperatures is given in `K`, never in `degC`.
* Angular speeds are `rad/s` or `rpm`; `Hz` is refused because it could mean either.
* A file is plain YAML in UTF-8: no anchors, aliases, tags, merge keys or second document; every key once.

## What happens when something is wrong
Every problem is listed as `file:line:column: path: message`, and nothing is run. `--set path=value` changes any
key before the file is checked: `--set duration='2 h'`, `--set commands[2].demand='8 g/h'`,
`--set controller.parameters.margin_setpoint='50 mV'`, `--set plant.compressor.displacement='18 cm3'`.
Items of lists are counted from 1 and
written `[1]` or `.1`; inside braces only the second form needs no quotes. Problems in a setting are located as `--set:N:column`, N the N-th setting.

## An example
```yaml
)";

constexpr std::string_view kExample = R"(format: duskline-scenario/1
title: A sol at equinox
purpose: Dawn and dusk under the cascade law, with one command to produce.
plant: bench
seed: 7
duration: 1 sol
record: 10 s
site: ember-hollow
start: {season: 180 deg, local_time: 5 h}
storms:
  - {at: 2 h, peak: 4, rise: 3 h, decay: 10 sol}
controller:
  law: cascade
  parameters: {margin_setpoint: 50 mV}
commands:
  - {at: 0 s, mode: warm-up}
  - {at: 4 h, mode: production, demand: 10 g/h}
events:
  - {at: 6 h, set: plant.stack.resistance_factor.4, to: 1.5}
faults:
  - {at: 7 h, fault: cathode-pressure-bias, size: 3 kPa, shape: ramp, rise: 1 h, length: 4 h}
)";

}  // namespace

std::string scenario_example() {
  return std::string{kExample};
}

std::string scenario_reference() {
  std::string text{kIntroduction};
  text += kExample;
  text += "```\n\n## Keys of a scenario\n`[]` stands for each item of a list.\n\n" +
          to_markdown(describe_scenario_keys());
  text += fmt::format(
      "\n## Parameters of the controller\nBelow `controller.parameters`, or in a controller file: `format: "
      "{}`, then "
      "`title`, `law`, `parameters` and `table` as below `controller`. `period` is set by the scenario.\n\n",
      kControllerFormat);
  text += to_markdown(describe_controller_parameters());
  text +=
      "\n## Parameters of the plant controller\nBelow `plant_controller.parameters`, for a plant whose "
      "modules stand between headers. "
      "Where one is left out, the default holds, or what follows from the sizes of the plant: speeds, "
      "capacities of "
      "valves and the surge line.\n\n";
  text += to_markdown(describe_plant_controller_parameters());
  text +=
      "\n## Parameters of a plant\nIn a plant file each stands as `{value: 20 cm3, range: [5 cm3, 100 cm3], "
      "source: "
      "\"...\"}` in nested maps. The value lies in its own range, the range within the limits of this table, "
      "outside "
      "which the model does not hold. None may be missing; `based_on: outpost.yaml` takes over those of "
      "another "
      "plant file, named from the folder of this one.\n\n";
  text += to_markdown(describe_plant_parameters());
  return text;
}

}  // namespace duskline::scenarios
