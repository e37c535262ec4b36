#include "hil-harness/cli/cli.hpp"

#include <CLI/CLI.hpp>

#include "hil-harness/cli/verbs.hpp"

namespace duskline::harness {

int command_line(int argc, const char* const* argv) {
  CLI::App app{
      "duskline: supervisory-control simulator for a plant that makes oxygen from the air of Mars\n"
      "The model is no safety case: hot ceramics, CO, pure oxygen and pressure need local codes and licensed "
      "practice."};
  app.set_version_flag("--version", "duskline 0.1.0");
  app.require_subcommand(1);
  app.failure_message(CLI::FailureMessage::help);

  RunRequest run;
  CLI::App* run_app = app.add_subcommand("run", "One closed-loop run, as fast as it goes");
  run_app->footer(
      "Example: duskline run scenarios/library/seasons/equinox-sol.yaml --out runs/equinox --baseline fixed");
  run_app->add_option("scenario", run.scenario, "Scenario file")->required();
  run_app->add_option(
      "--out", run.out,
      "Folder for trace.nc, summary.json, report.html, scenario.resolved.yaml (default runs/<scenario>)");
  run_app->add_option("--set", run.settings, "Override a key: path=value; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false);
  run_app->add_option("--seed", run.seed, "Seed of all random streams");
  run_app->add_option("--baseline", run.baseline, "Also run this control law and show both in the report");
  run_app->add_flag("--json", run.json, "Print the summary as JSON");
  run_app->add_flag("--quiet", run.quiet, "Print nothing but problems");
  run_app->add_flag("--force", run.force, "Overwrite an earlier run in the folder");
  run_app->add_flag("!--no-record", run.record, "Write the summary only, no trace and no report");

  DescribeRequest describe;
  CLI::App* describe_app =
      app.add_subcommand("describe", "Every parameter, signal and key with unit, range, meaning and source");
  describe_app->footer("Example: duskline describe plant --json");
  describe_app->add_option("topic", describe.topic,
                           "plant, controller, signals, scenario, modes, instruments, sites, ends");
  describe_app->add_option("--plant", describe.plant, "Plant whose values are shown");
  describe_app->add_flag("--json", describe.json, "Print JSON");

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? kWell : kBadInput;
  }
  if (run_app->parsed()) return run_verb(run);
  return describe_verb(describe);
}

}  // namespace duskline::harness
