#include "hil-harness/cli/command_line.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "controller/include/controller.h"
#include "hil-harness/cli/topics.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

std::vector<std::string> laws() {
#define WORD(identifier, value, word, meaning) word,
  return {CTL_LAW_LIST(WORD)};
#undef WORD
}

/// Refuses every word but these.
CommandLine::Check one_of(std::vector<std::string> allowed, std::string what) {
  return [allowed = std::move(allowed), what = std::move(what)](const std::string& given) -> std::string {
    if (std::find(allowed.begin(), allowed.end(), given) != allowed.end()) return {};
    std::string hint = scenarios::did_you_mean(given, allowed);
    if (hint.empty()) hint = fmt::format("; expected {}", fmt::join(allowed, " | "));
    return fmt::format("there is no {} '{}'{}", what, given, hint);
  };
}

std::string check_seed(const std::string& given) {
  std::uint64_t value = 0;
  const char* end = given.data() + given.size();
  const auto [stop, error] = std::from_chars(given.data(), end, value);
  if (error == std::errc{} && stop == end) return {};
  return fmt::format("'{}' is not a whole number from 0 to 18446744073709551615", given);
}

}  // namespace

CommandLine::CommandLine()
    : app{"duskline: supervisory-control simulator for a plant that makes oxygen from the air of Mars\n"
          "The model is no safety case: hot ceramics, CO, pure oxygen and pressure need local codes and "
          "licensed practice.",
          "duskline"} {
  app.set_version_flag("--version", "duskline " DUSKLINE_VERSION, "Print the version");
  app.set_help_flag("-h,--help", "Print this help");
  app.require_subcommand(1);
  app.footer("Example: duskline describe");

  run_app = app.add_subcommand("run", "One closed-loop run, as fast as it goes");
  run_app->footer(
      "Example: duskline run scenarios/library/start-stop/hour-of-oxygen.yaml --set duration='20 min' --out "
      "runs/first-look --force");
  run_app->add_option("scenario", run.scenario, "Scenario file")->required()->type_name("FILE");
  run_app
      ->add_option("--out", run.out,
                   "Folder for trace.nc, summary.json, report.html and scenario.resolved.yaml (default "
                   "runs/<scenario>)")
      ->type_name("FOLDER");
  run_app->add_option("--set", run.settings, "Override a key of the scenario or the plant; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false)
      ->type_name("PATH=VALUE");
  checks[run_app->add_option("--seed", run.seed, "Seed of all random streams")->type_name("NUMBER")] =
      check_seed;
  run_app
      ->add_option(
          "--controller", run.controller,
          "Shared object with a controller of your own (docs/how-to/write-your-own-controller.md); it "
          "runs with all rights of this program")
      ->type_name("FILE");
  checks[run_app
             ->add_option("--compare", run.compare,
                          "Also run this control law; the report shows both (writes compared.nc and "
                          "compared.json too)")
             ->type_name("LAW")] = one_of(laws(), "law");
  run_app->add_flag("--json", run.json, "Print the summary as JSON");
  run_app->add_flag("--quiet", run.quiet, "Print nothing but problems (and the JSON, if asked for)");
  run_app->add_flag("--force", run.force, "Overwrite an earlier run in the folder");
  run_app->add_flag_callback(
      "--no-record", [this] { run.record = false; }, "Write the summary only, no trace and no report");

  add_verify();
  add_tune();
  add_linearize();
  add_falsify();

  describe_app = app.add_subcommand(
      "describe", "Every parameter, signal, fault and key with unit, range, meaning, source");
  describe_app->footer("Example: duskline describe signals");
  std::vector<std::string> words;
  for (const Topic& topic : topics()) words.emplace_back(topic.word);
  checks[describe_app
             ->add_option("topic", describe.topic,
                          fmt::format("One of {}; none: a list of them", fmt::join(words, ", ")))
             ->type_name("TOPIC")] = one_of(words, "topic");
  describe_app
      ->add_option("--plant", describe.plant, "Plant whose values are shown: a plant that ships, or a file")
      ->capture_default_str()
      ->type_name("NAME|FILE");
  CLI::Option* json = describe_app->add_flag("--json", describe.json, "Print JSON");
  describe_app->add_flag("--markdown", describe.markdown, "Print a page of the reference in Markdown")
      ->excludes(json);

  for (CLI::App* verb : {run_app, verify_app, falsify_app, linearize_app, tune_app, describe_app})
    verb->set_help_flag("-h,--help", "Print this help");
}

void CommandLine::add_linearize() {
  linearize_app = app.add_subcommand(
      "linearize", "Linear models at an instant of a run: matrices, poles, margins of the loops");
  linearize_app->footer(
      "Example: duskline linearize scenarios/library/dawn-dusk/equinox-sol.yaml --at '20 min' --out "
      "runs/linear "
      "--force");
  linearize_app->add_option("scenario", linearize.scenario, "Scenario file")->required()->type_name("FILE");
  linearize_app
      ->add_option("--at", linearize.at, "Local time (12:00) or time since the start ('6 h') of the instant")
      ->required()
      ->type_name("TIME");
  linearize_app
      ->add_option("--out", linearize.out,
                   "Folder for linear.json, linear.txt and linear.html (default runs/<scenario>/linear)")
      ->type_name("FOLDER");
  linearize_app
      ->add_option("--set", linearize.settings,
                   "Override a key of the scenario or the plant; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false)
      ->type_name("PATH=VALUE");
  checks[linearize_app->add_option("--seed", linearize.seed, "Seed of all random streams")
             ->type_name("NUMBER")] = check_seed;
  linearize_app->add_flag("--json", linearize.json, "Print linear.json");
  linearize_app->add_flag("--quiet", linearize.quiet,
                          "Print nothing but problems (and the JSON, if asked for)");
  linearize_app->add_flag("--force", linearize.force, "Overwrite files of an earlier call");
}

void CommandLine::add_tune() {
  tune_app = app.add_subcommand(
      "tune",
      "Searches gains of the controller that are better by a stated objective, over dispersed plants");
  tune_app->footer(
      "Example: duskline tune scenarios/library/tuning/dawn-demand.yaml --set tuning.budget=6 --set "
      "tuning.draws=1 --set tuning.held_out=2 --set duration='20 min' --out runs/first-tuning --force");
  tune_app->add_option("scenario", tune.scenario, "Scenario file with a section `tuning`")
      ->required()
      ->type_name("FILE");
  tune_app
      ->add_option("--out", tune.out,
                   "Folder for controller.yaml, tune.json, report.html and the journal (default "
                   "runs/<scenario>-tuned)")
      ->type_name("FOLDER");
  tune_app->add_option("--set", tune.settings, "Override a key of the scenario or the plant; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false)
      ->type_name("PATH=VALUE");
  tune_app
      ->add_option("--start", tune.starts,
                   "Controller file to start from too, such as that of --relay; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false)
      ->type_name("FILE");
  checks[tune_app->add_option("--seed", tune.seed, "Seed of the search and of the draws")
             ->type_name("NUMBER")] = check_seed;
  checks[tune_app->add_option("--jobs", tune.jobs, "Runs at a time (default: one for each processor)")
             ->type_name("NUMBER")] = check_seed;
  tune_app->add_flag(
      "--relay", tune.relay,
      "Relay experiments on the loops of flow and current instead of a search; proposes gains");
  tune_app->add_flag("--json", tune.json, "Print the result as JSON");
  tune_app->add_flag("--quiet", tune.quiet, "Print nothing but problems");
  tune_app->add_flag("--force", tune.force, "Overwrite an earlier search in the folder");
}

void CommandLine::add_verify() {
  verify_app = app.add_subcommand("verify", "Runs scenarios on all cores and judges their requirements");
  verify_app->footer("Example: duskline verify scenarios/library/storms");
  verify_app->add_option("paths", verify.paths, "Scenario files, and folders of them")
      ->required()
      ->type_name("PATH...");
  verify_app->add_option("--set", verify.settings, "Override a key in every scenario; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false)
      ->type_name("PATH=VALUE");
  verify_app
      ->add_option(
          "--controller", verify.controller,
          "Shared object with a controller of your own, for every scenario; it runs with all rights of "
          "this program")
      ->type_name("FILE");
  verify_app
      ->add_option("--out", verify.out, "Folder for traces and reports of what failed (default runs/verify)")
      ->type_name("FOLDER");
  verify_app->add_option("--junit", verify.junit, "Write the verdicts as JUnit XML")->type_name("FILE");
  verify_app->add_option("--tap", verify.tap, "Write the verdicts in the Test Anything Protocol")
      ->type_name("FILE");
  CLI::Option* accepted =
      verify_app
          ->add_option("--accepted", verify.accepted,
                       "Folder with accepted results: shows what has changed, fails on margins that fell")
          ->type_name("FOLDER");
  verify_app->add_flag("--update-accepted", verify.update_accepted, "Accept the current results")
      ->needs(accepted);
  verify_app->add_flag("--check", verify.check, "Only read the files and say what is wrong with them");
  checks[verify_app->add_option("--jobs", verify.jobs, "Runs at a time (default: one for each processor)")
             ->type_name("NUMBER")] = check_seed;
  verify_app->add_flag_callback(
      "--no-record", [this] { verify.record = false; },
      "Judge only: keep no trace and no report of what failed");
  verify_app->add_flag("--json", verify.json, "Print the results as JSON");
  verify_app->add_flag("--quiet", verify.quiet, "Print nothing but what failed");
  verify_app->add_flag("--force", verify.force, "Overwrite files and folders of an earlier check");
}

void CommandLine::add_falsify() {
  falsify_app = app.add_subcommand(
      "falsify", "Searches for the disturbance that comes closest to breaking a requirement");
  falsify_app->footer(
      "Example: duskline falsify scenarios/library/dawn-dusk/any-dawn-or-dusk.yaml --runs 8 --force");
  falsify_app->add_option("scenario", falsify.scenario, "Scenario with a section `falsify`")
      ->required()
      ->type_name("FILE");
  falsify_app
      ->add_option(
          "--out", falsify.out,
          "Folder for worst.yaml, falsify.json, falsify.svg and the report of the worst run (default "
          "runs/falsify/<scenario>)")
      ->type_name("FOLDER");
  falsify_app
      ->add_option("--set", falsify.settings, "Override a key of the scenario or the plant; may be repeated")
      ->take_all()
      ->expected(1)
      ->allow_extra_args(false)
      ->type_name("PATH=VALUE");
  falsify_app->add_option("--requirement", falsify.requirement, "Requirement to break, by its name")
      ->type_name("NAME");
  checks[falsify_app->add_option("--runs", falsify.runs, "How many runs it may take")->type_name("NUMBER")] =
      check_seed;
  checks[falsify_app
             ->add_option("--seed", falsify.seed,
                          "Seed of the search (default: that of the scenario, which stays as it is)")
             ->type_name("NUMBER")] = check_seed;
  checks[falsify_app->add_option("--jobs", falsify.jobs, "Runs at a time (default: one for each processor)")
             ->type_name("NUMBER")] = check_seed;
  falsify_app->add_flag("--go-on", falsify.go_on, "Do not stop at the first violation; look for the worst");
  CLI::Option* resume =
      falsify_app->add_flag("--resume", falsify.resume, "Go on with an interrupted search in the folder");
  falsify_app->add_flag("--json", falsify.json, "Print what was found as JSON");
  falsify_app->add_flag("--quiet", falsify.quiet, "Print nothing but problems (and the JSON, if asked for)");
  falsify_app->add_flag("--force", falsify.force, "Overwrite an earlier search in the folder")
      ->excludes(resume);
}

namespace {

/// Looks at the words one by one; the parser proper would stop at the first problem and not say where.
class Words {
 public:
  Words(const CommandLine& line, const std::vector<std::string>& words) : line_(line), words_(words) {
    std::size_t column = std::string{"duskline "}.size() + 1;
    for (const std::string& word : words) {
      columns_.push_back(column);
      column += word.size() + 1;
    }
    end_ = column - 1;
  }

  std::vector<scenarios::Problem> problems() {
    if (words_.empty()) {
      add(end_, "VERB", fmt::format("is missing; expected {}", fmt::join(verbs(), " | ")));
      return found_;
    }
    const bool is_verb = !words_[0].starts_with('-');
    const CLI::App* app = is_verb ? find_verb() : &line_.app;
    if (app == nullptr) return found_;
    for (std::size_t i = is_verb ? 1 : 0; i < words_.size(); ++i) {
      const std::string& word = words_[i];
      if (word == "--help" || word == "-h") help_ = true;
      if (word.size() > 1 && word[0] == '-')
        i += option(*app, i);
      else
        positional(*app, i);
    }
    if (is_verb && !help_) missing(*app);
    return found_;
  }

 private:
  void add(std::size_t column, const std::string& path, std::string message) {
    found_.push_back({"command line", 1, static_cast<int>(column), path, std::move(message)});
  }

  std::vector<std::string> verbs() const {
    std::vector<std::string> names;
    for (const CLI::App* verb : line_.app.get_subcommands([](const CLI::App*) { return true; }))
      names.push_back(verb->get_name());
    return names;
  }

  const CLI::App* find_verb() {
    for (const CLI::App* verb : line_.app.get_subcommands([](const CLI::App*) { return true; }))
      if (verb->get_name() == words_[0]) return verb;
    const std::vector<std::string> names = verbs();
    std::string hint = scenarios::did_you_mean(words_[0], names);
    if (hint.empty()) hint = fmt::format("; expected {}", fmt::join(names, " | "));
    add(columns_[0], words_[0], "unknown verb" + hint);
    return nullptr;
  }

  void check(const CLI::Option* option, std::size_t column, const std::string& name,
             const std::string& value) {
    const auto at = line_.checks.find(option);
    if (at == line_.checks.end()) return;
    if (std::string error = at->second(value); !error.empty()) add(column, name, std::move(error));
  }

  /// The option at word `i`; gives the number of words that it takes besides its own.
  std::size_t option(const CLI::App& app, std::size_t i) {
    const std::string& word = words_[i];
    const std::size_t equals = word.find('=');
    const std::string name = word.substr(0, equals);
    const CLI::Option* option = app.get_option_no_throw(name);
    if (option == nullptr) {
      std::vector<std::string> known;
      for (const CLI::Option* o : app.get_options())
        for (const std::string& l : o->get_lnames()) known.push_back("--" + l);
      add(columns_[i], name, "unknown option" + scenarios::did_you_mean(name, known));
      unknown_ = true;
      return 0;
    }
    const bool repeats = option->get_multi_option_policy() == CLI::MultiOptionPolicy::TakeAll;
    if (std::find(given_.begin(), given_.end(), option) != given_.end() && !repeats)
      add(columns_[i], name, "is given twice");
    given_.push_back(option);
    if (option->get_items_expected_max() == 0) {
      if (equals != std::string::npos) add(columns_[i], name, "takes no value");
      return 0;
    }
    if (equals != std::string::npos) {
      check(option, columns_[i] + equals + 1, name, word.substr(equals + 1));
      return 0;
    }
    if (i + 1 == words_.size() ||
        (words_[i + 1].starts_with("-") && words_[i + 1].size() > 1 && known(app, i + 1))) {
      add(columns_[i] + word.size(), name, fmt::format("needs a value ({})", option->get_type_name()));
      return 0;
    }
    check(option, columns_[i + 1], name, words_[i + 1]);
    return 1;
  }

  bool known(const CLI::App& app, std::size_t i) const {
    return app.get_option_no_throw(words_[i].substr(0, words_[i].find('='))) != nullptr;
  }

  void positional(const CLI::App& app, std::size_t i) {
    std::size_t place = 0;
    for (const CLI::Option* option : app.get_options()) {
      const bool repeats = option->get_items_expected_max() > 1;
      if (!option->get_positional() || (place++ < positionals_ && !repeats)) continue;
      if (place > positionals_) ++positionals_;
      check(option, columns_[i], option->get_name(), words_[i]);
      return;
    }
    // behind an unknown option it is more likely the value of that option
    if (!unknown_) add(columns_[i], words_[i], "is one word too many; words with blanks need quotes");
  }

  void missing(const CLI::App& app) {
    std::size_t place = 0;
    for (const CLI::Option* option : app.get_options())
      if (option->get_positional() && place++ >= positionals_ && option->get_required())
        add(end_, option->get_type_name(),
            fmt::format("is missing ({}); 'duskline {} --help' shows an example", option->get_description(),
                        app.get_name()));
  }

  const CommandLine& line_;
  const std::vector<std::string>& words_;
  std::vector<std::size_t> columns_;
  std::size_t end_{};
  std::vector<const CLI::Option*> given_;
  std::size_t positionals_{};
  bool help_ = false, unknown_ = false;
  std::vector<scenarios::Problem> found_;
};

}  // namespace

std::vector<scenarios::Problem> problems_of(const CommandLine& line, const std::vector<std::string>& words) {
  return Words(line, words).problems();
}

}  // namespace duskline::harness
