#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <memory>

#include "hil-harness/campaign/plan.hpp"
#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/topics.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/loop/pacer.hpp"
#include "hil-harness/loop/words.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

template <class R>
using Request = std::shared_ptr<R>;

// The kinds of options. Each stores into a member of the request.

template <class R>
Option text(const Request<R>& r, std::string R::*to, const char* name, const char* value,
            const char* meaning) {
  return {name, value, meaning,
          [r, to](const std::string& given) { return (*r).*to = given, std::string{}; }};
}

template <class R>
Option texts(const Request<R>& r, std::vector<std::string> R::*to, const char* name, const char* value,
             const char* meaning) {
  Option o{name, value, meaning, [r, to](const std::string& given) {
             ((*r).*to).push_back(given);
             return std::string{};
           }};
  o.repeats = true;
  return o;
}

template <class R>
Option flag(const Request<R>& r, bool R::*to, const char* name, const char* meaning, bool becomes = true) {
  return {name, "", meaning,
          [r, to, becomes](const std::string&) { return (*r).*to = becomes, std::string{}; }};
}

template <class R, class Number>
Option whole(const Request<R>& r, Number R::*to, const char* name, const char* meaning) {
  return {name, "NUMBER", meaning, [r, to](const std::string& given) -> std::string {
            std::uint64_t value = 0;
            const char* end = given.data() + given.size();
            const auto [stop, error] = std::from_chars(given.data(), end, value);
            if (error != std::errc{} || stop != end)
              return fmt::format("'{}' is not a whole number from 0 to 18446744073709551615", given);
            (*r).*to = value;
            return {};
          }};
}

/// What is wrong with a word that has to be one of a few.
std::string unknown_word(const std::string& given, const std::vector<std::string>& allowed,
                         const char* what) {
  if (std::find(allowed.begin(), allowed.end(), given) != allowed.end()) return {};
  std::string hint = scenarios::did_you_mean(given, allowed);
  if (hint.empty()) hint = fmt::format("; expected {}", fmt::join(allowed, " | "));
  return fmt::format("there is no {} '{}'{}", what, given, hint);
}

/// One of a few words.
template <class R>
Option word(const Request<R>& r, std::string R::*to, const char* name, const char* value, const char* meaning,
            std::vector<std::string> allowed, const char* what) {
  Option o{name, value, meaning, [r, to, allowed, what](const std::string& given) -> std::string {
             (*r).*to = given;
             return unknown_word(given, allowed, what);
           }};
  o.choices = std::move(allowed);
  return o;
}

/// Any of a few words, once or more.
template <class R>
Option words(const Request<R>& r, std::vector<std::string> R::*to, const char* name, const char* value,
             const char* meaning, std::vector<std::string> allowed, const char* what) {
  Option o = texts(r, to, name, value, meaning);
  o.take = [r, to, allowed, what](const std::string& given) {
    ((*r).*to).push_back(given);
    return unknown_word(given, allowed, what);
  };
  o.choices = std::move(allowed);
  return o;
}

/// The words of a table.
template <class Table>
std::vector<std::string> words_in(const Table& table) {
  std::vector<std::string> all;
  for (const auto& row : table) all.emplace_back(row.word);
  return all;
}

Option required(Option o) {
  o.required = true;
  return o;
}

// Options that several verbs share.

template <class R>
Option scenario(const Request<R>& r,
                const char* meaning = "Scenario file, or the name of one of the library") {
  return required(text(r, &R::scenario, "SCENARIO", "SCENARIO", meaning));
}
template <class R>
Option set(const Request<R>& r, const char* meaning = "Override a key of the scenario or the plant") {
  return texts(r, &R::settings, "--set", "PATH=VALUE", meaning);
}
template <class R>
Option jobs(const Request<R>& r) {
  return whole(r, &R::jobs, "--jobs", "Runs at a time (default: one for each processor)");
}
template <class R>
Option check(const Request<R>& r) {
  return flag(r, &R::check, "--check", "Only read the inputs and print what is wrong with them");
}
template <class R>
Option quiet(const Request<R>& r) {
  return flag(r, &R::quiet, "--quiet", "Print errors only (and the JSON, if asked for)");
}

Arguments declare_run() {
  const auto r = std::make_shared<RunRequest>();
  Option resume =
      flag(r, &RunRequest::resume, "--resume",
           "Go on from the last checkpoint in the folder of the same run, a killed one or one that "
           "was stopped; runs of 5 sols and more make one each sol");
  resume.excludes = {"--compare", "--force"};
  return {
      {scenario(r),
       text(r, &RunRequest::out, "--out", "FOLDER",
            "Folder for trace.nc, summary.json, report.html and scenario.resolved.yaml (default "
            "runs/<scenario>)"),
       set(r), whole(r, &RunRequest::seed, "--seed", "Seed of all random streams"),
       text(r, &RunRequest::span, "--span", "DURATION",
            "How long the run lasts, such as '1 Mars year' or '30 sol'; from 5 sols on it leaves sols.nc and "
            "sols.html"),
       texts(r, &RunRequest::links, "--link", "LINK",
             "What controls the plant, such as plugin:./mine.so, emulator:IMAGE or modbus:HOST:PORT; 3=LINK "
             "for module 3 alone, plant=LINK for the plant controller (docs/explain/links.md; default "
             "in-process); a plug-in runs with the privileges of the "
             "user"),
       text(r, &RunRequest::acts, "--acts", "FILE",
            "What people do during the run: a file that a training session gave, or one of your own"),
       word(r, &RunRequest::compare, "--compare", "LAW",
            "Also run this control law; the report shows both (writes compared.nc and compared.json too)",
            only_words(law_words()), "law"),
       check(r), flag(r, &RunRequest::json, "--json", "Print the summary as JSON"), quiet(r),
       flag(r, &RunRequest::force, "--force", "Overwrite an earlier run in the folder"), resume,
       flag(r, &RunRequest::record, "--no-record", "Write the summary only, no trace and no report", false)},
      [r] { return run_verb(*r); }};
}

Arguments declare_hil() {
  const auto r = std::make_shared<RunRequest>();
  r->speed = 1.0;
  Option speed{"--speed", "FACTOR",
               "Seconds of plant in a second of the clock, 1 (the default: real time) to 600",
               [r](const std::string& given) -> std::string {
                 const char* end = given.data() + given.size();
                 const auto [stop, error] = std::from_chars(given.data(), end, r->speed);
                 if (error == std::errc{} && stop == end && r->speed >= kSpeedMin && r->speed <= kSpeedMax)
                   return {};
                 return fmt::format("'{}' is not a number from {:g} to {:g}", given, kSpeedMin, kSpeedMax);
               }};
  return {{scenario(r),
           required(texts(r, &RunRequest::links, "--link", "LINK",
                          "What controls the plant, as for `run`: serial:DEVICE, modbus:HOST:PORT, "
                          "3=serial:DEVICE for module 3, plant=serial:DEVICE for the plant controller, ...")),
           std::move(speed),
           text(r, &RunRequest::out, "--out", "FOLDER",
                "Folder for what `run` writes, and timing.json (default runs/<scenario>)"),
           set(r), whole(r, &RunRequest::seed, "--seed", "Seed of all random streams"), check(r),
           flag(r, &RunRequest::json, "--json", "Print the summary as JSON"), quiet(r),
           flag(r, &RunRequest::force, "--force", "Overwrite an earlier run in the folder"),
           flag(r, &RunRequest::record, "--no-record", "Write summary and timing only", false)},
          [r] { return run_verb(*r); }};
}

Arguments declare_verify() {
  const auto r = std::make_shared<VerifyRequest>();
  Option accept = flag(r, &VerifyRequest::update_accepted, "--update-accepted", "Accept the current results");
  accept.needs = "--accepted";
  Option only_check = check(r);
  only_check.excludes = {"--junit", "--tap", "--accepted"};
  return {
      {required(texts(r, &VerifyRequest::paths, "PATH...", "PATH",
                      "Scenario files and folders of them, or names of the library (equinox-sol, faults)")),
       texts(r, &VerifyRequest::tags, "--tag", "TAG",
             "Only scenarios with this tag: a folder (storms), a site, or a fault that is injected"),
       set(r, "Override a key in every scenario"),
       texts(
           r, &VerifyRequest::links, "--link", "LINK",
           "What controls every scenario, such as plugin:./mine.so or emulator:IMAGE (docs/explain/links.md; "
           "default in-process)"),
       text(r, &VerifyRequest::out, "--out", "FOLDER",
            "Folder for what is kept: runs that failed, pages of what changed (default runs/verify)"),
       text(r, &VerifyRequest::junit, "--junit", "FILE", "Write the verdicts as JUnit XML"),
       text(r, &VerifyRequest::tap, "--tap", "FILE", "Write the verdicts in the Test Anything Protocol"),
       text(r, &VerifyRequest::accepted, "--accepted", "FOLDER",
            "Folder with accepted results: shows what has changed, fails on margins that fell"),
       accept, only_check, jobs(r),
       flag(r, &VerifyRequest::record, "--no-record",
            "Judge only: keep no run of what failed and no page of what changed", false),
       flag(r, &VerifyRequest::json, "--json", "Print the results as JSON"),
       flag(r, &VerifyRequest::quiet, "--quiet", "Print only what failed"),
       flag(r, &VerifyRequest::force, "--force", "Overwrite files and folders of an earlier check")},
      [r] { return verify_verb(*r); }};
}

Arguments declare_tune() {
  const auto r = std::make_shared<TuneRequest>();
  Option relay =
      flag(r, &TuneRequest::relay, "--relay",
           "Relay experiments on the loops of flow and current instead of a search; proposes gains");
  relay.excludes = {"--start", "--seed", "--jobs"};
  return {{scenario(r, "Scenario with a section `tuning`: a file, or the name of one of the library"),
           text(r, &TuneRequest::out, "--out", "FOLDER",
                "Folder for controller.yaml, tune.json, report.html and the journal (default "
                "runs/<scenario>-tuned)"),
           set(r),
           texts(r, &TuneRequest::starts, "--start", "FILE",
                 "Controller file to start from too, such as that of --relay"),
           whole(r, &TuneRequest::seed, "--seed", "Seed of the search and of the draws"), jobs(r), relay,
           check(r), flag(r, &TuneRequest::json, "--json", "Print the result as JSON"), quiet(r),
           flag(r, &TuneRequest::force, "--force", "Overwrite an earlier search in the folder")},
          [r] { return tune_verb(*r); }};
}

Arguments declare_linearize() {
  const auto r = std::make_shared<LinearizeRequest>();
  return {{scenario(r),
           required(text(r, &LinearizeRequest::at, "--at", "TIME",
                         "Local time (12:00) or time since the start ('6 h') of the instant")),
           text(r, &LinearizeRequest::out, "--out", "FOLDER",
                "Folder for linear.json, linear.html and the matrices (default runs/<scenario>/linear)"),
           set(r), whole(r, &LinearizeRequest::seed, "--seed", "Seed of all random streams"),
           text(r, &LinearizeRequest::link, "--link", "LINK",
                "Whose controller: in-process, or plugin:FILE with the function ctl_state_layout"),
           check(r), flag(r, &LinearizeRequest::json, "--json", "Print linear.json"), quiet(r),
           flag(r, &LinearizeRequest::force, "--force", "Overwrite files of an earlier call")},
          [r] { return linearize_verb(*r); }};
}

Arguments declare_train() {
  const auto r = std::make_shared<TrainRequest>();
  Option listen = text(r, &TrainRequest::listen, "--listen", "ADDRESS",
                       "Address of this machine on which others reach the console (default 127.0.0.1)");
  listen.needs = "--keys";
  return {{scenario(r, "Exercise or scenario: a file, or the name of one that ships"),
           whole(r, &TrainRequest::port, "--port", "Port of the console (default: any that is free)"), listen,
           text(r, &TrainRequest::keys, "--keys", "FILE", "Access keys, a line `ROLE KEY` each"),
           text(r, &TrainRequest::session, "--session", "FILE",
                "Keep the session in this file, or go on with the one in it (default: it is not kept)"),
           text(r, &TrainRequest::speed, "--speed", "FACTOR", "Times real time, 0.1 to 600 (default 1)"),
           set(r), check(r), quiet(r)},
          [r] { return train_verb(*r); }};
}

Arguments declare_compare() {
  const auto r = std::make_shared<CompareRequest>();
  return {{required(text(r, &CompareRequest::a, "A", "FOLDER", "Folder of the run that is compared with")),
           required(text(r, &CompareRequest::b, "B", "FOLDER", "Folder of the run that is compared")),
           text(r, &CompareRequest::out, "--out", "FOLDER",
                "Folder for compare.html (default runs/compare/<A>-and-<B>)"),
           flag(r, &CompareRequest::json, "--json", "Print the comparison as JSON"), quiet(r),
           flag(r, &CompareRequest::force, "--force", "Overwrite an earlier comparison in the folder")},
          [r] { return compare_verb(*r); }};
}

Arguments declare_falsify() {
  const auto r = std::make_shared<FalsifyRequest>();
  Option force = flag(r, &FalsifyRequest::force, "--force", "Overwrite an earlier search in the folder");
  force.excludes = {"--resume"};
  return {
      {scenario(r, "Scenario with a section `falsify`: a file, or the name of one of the library"),
       text(r, &FalsifyRequest::out, "--out", "FOLDER",
            "Folder for worst.yaml, falsify.json, falsify.html and the report of the worst run (default "
            "runs/falsify/<scenario>)"),
       set(r),
       text(r, &FalsifyRequest::requirement, "--requirement", "NAME", "Requirement to violate, by its name"),
       texts(r, &FalsifyRequest::links, "--link", "LINK",
             "What controls every run, as for `run` (default in-process)"),
       whole(r, &FalsifyRequest::runs, "--runs", "Largest number of runs"),
       whole(r, &FalsifyRequest::seed, "--seed",
             "Seed of the search (default: that of the scenario, which stays as it is)"),
       jobs(r),
       flag(r, &FalsifyRequest::go_on, "--go-on", "Do not stop at the first violation; look for the worst"),
       flag(r, &FalsifyRequest::resume, "--resume", "Continue an interrupted search in the folder"), check(r),
       flag(r, &FalsifyRequest::json, "--json", "Print what was found as JSON"), quiet(r), force},
      [r] { return falsify_verb(*r); }};
}

Arguments declare_campaign() {
  const auto r = std::make_shared<CampaignRequest>();
  Option markdown =
      flag(r, &CampaignRequest::markdown, "--markdown", "Print the table of the laws in Markdown");
  markdown.excludes = {"--json"};
  return {
      {scenario(r), whole(r, &CampaignRequest::runs, "--runs", "Runs with each law (default 100)"),
       words(r, &CampaignRequest::laws, "--law", "LAW",
             "Control law; more than once: each on the same draws "
             "(default: that of the scenario)",
             only_words(law_words()), "law"),
       words(r, &CampaignRequest::differs, "--grade", "GRADE",
             "What differs between the runs: parameters, surroundings (default: these two), structure",
             words_in(kDiffers), "grade"),
       word(r, &CampaignRequest::sampling, "--sampling", "WORD",
            "How draws are chosen: independent (the default), latin-hypercube, sobol, sensitivity (which "
            "number drives "
            "the margin), subset (how likely the coke limit is passed, however rarely)",
            words_in(kSamplings), "sampling"),
       whole(r, &CampaignRequest::seed, "--seed", "Seed of the campaign, from 1 (default 1)"),
       text(r, &CampaignRequest::out, "--out", "FOLDER",
            "Folder for campaign.db, runs.csv and campaign.html (default runs/campaign/<scenario>); the same "
            "call "
            "goes on with what it holds"),
       set(r),
       texts(r, &CampaignRequest::links, "--link", "LINK",
             "What controls every run, as for `run` (default in-process)"),
       jobs(r), check(r), flag(r, &CampaignRequest::json, "--json", "Print the figures as JSON"),
       std::move(markdown), quiet(r),
       flag(r, &CampaignRequest::force, "--force", "Start over: overwrite the campaign in the folder")},
      [r] { return campaign_verb(*r); }};
}

Arguments declare_schedule() {
  const auto r = std::make_shared<ScheduleRequest>();
  return {
      {scenario(r, "Scenario of a sol or more with requirements: a file, or the name of one of the library"),
       whole(r, &ScheduleRequest::seasons, "--seasons", "Parts into which the run is cut (default 12)"),
       text(r, &ScheduleRequest::least, "--least", "DEMAND",
            "Least set-point, such as '6 g/h' (default: 40 % of the scenario's demand)"),
       text(r, &ScheduleRequest::most, "--most", "DEMAND",
            "Greatest set-point (default: 180 % of the scenario's demand)"),
       text(r, &ScheduleRequest::step, "--step", "DEMAND",
            "Between set-points (default: a twentieth of the demand, rounded down to 1, 2 or 5 and zeros)"),
       text(r, &ScheduleRequest::out, "--out", "FOLDER",
            "Folder for schedule.yaml, schedule.json and schedule.html (default runs/schedule/<scenario>)"),
       set(r), jobs(r), check(r), flag(r, &ScheduleRequest::json, "--json", "Print the schedule as JSON"),
       quiet(r), flag(r, &ScheduleRequest::force, "--force", "Overwrite an earlier schedule in the folder")},
      [r] { return schedule_verb(*r); }};
}

// What export and show share: which part of which recorded run.
template <class R>
std::vector<Option> part(const Request<R>& r, Option signals) {
  return {required(text(r, &R::run, "RUN", "RUN", "Folder of a run, or its trace.nc")), std::move(signals),
          texts(r, &R::units, "--unit", "SIGNAL=UNIT", "Unit of a signal (default: that of the trace)"),
          text(r, &R::from, "--from", "TIME", "Begin at this time since the start, such as '6 h'"),
          text(r, &R::to, "--to", "TIME", "End at this time since the start")};
}

Arguments declare_export() {
  const auto r = std::make_shared<ExportRequest>();
  auto options = part(r, required(texts(r, &ExportRequest::signals, "--signal", "NAME,...",
                                        "Signals, by their names in `duskline describe signals`")));
  options.push_back(
      text(r, &ExportRequest::every, "--every", "TIME", "One row for each such span (default: all rows)"));
  options.push_back(text(r, &ExportRequest::out, "--out", "FILE", "Write a file instead of standard output"));
  options.push_back(flag(r, &ExportRequest::force, "--force", "Overwrite the file"));
  return {std::move(options), [r] { return export_verb(*r); }};
}

Arguments declare_export_unit() {
  const auto r = std::make_shared<ExportUnitRequest>();
  return {{scenario(r),
           required(text(r, &ExportUnitRequest::out, "--out", "FILE", "File to write, such as plant.fmu")),
           word(r, &ExportUnitRequest::standard, "--fmi", "VERSION", "Version of FMI: 2 (default) or 3",
                {"2", "3"}, "version of FMI"),
           set(r), whole(r, &ExportUnitRequest::seed, "--seed", "Seed of all random streams"),
           flag(r, &ExportUnitRequest::force, "--force", "Overwrite the file")},
          [r] { return export_unit_verb(*r); }};
}

Arguments declare_show() {
  const auto r = std::make_shared<ShowRequest>();
  auto options =
      part(r, required(texts(r, &ShowRequest::signals, "--signal", "NAME,...", "Signals, a chart each")));
  options.push_back(
      whole(r, &ShowRequest::width, "--width", "Columns of a chart (default: those of the terminal)"));
  options.push_back(whole(r, &ShowRequest::height, "--height", "Lines of a chart (default 16)"));
  options.push_back(flag(r, &ShowRequest::ascii, "--ascii", "Draw with ASCII characters only"));
  return {std::move(options), [r] { return show_verb(*r); }};
}

Arguments declare_describe() {
  const auto r = std::make_shared<DescribeRequest>();
  std::vector<std::string> words;
  for (const Topic& topic : topics()) words.emplace_back(topic.word);
  Option topic{
      "TOPIC", "TOPIC",
      fmt::format("One of {}; or the name of an entry, such as coke_margin; none: a list of the topics",
                  fmt::join(words, ", ")),
      [r](const std::string& given) {
        r->topic = given;
        return unknown_entry(given);
      }};
  topic.choices = words;
  Option json = flag(r, &DescribeRequest::json, "--json", "Print JSON");
  Option markdown =
      flag(r, &DescribeRequest::markdown, "--markdown", "Print a page of the reference in Markdown");
  markdown.excludes = {"--json"};
  return {
      {topic, text(r, &DescribeRequest::filter, "FILTER", "TEXT", "Show only entries that hold this text"),
       text(r, &DescribeRequest::plant, "--plant", "NAME|FILE",
            "Plant whose values are shown: a plant that ships, or a file (default bench)"),
       json, markdown},
      [r] { return describe_verb(*r); }};
}

Arguments declare_completion() {
  struct Shell {
    std::string name;
  };
  const auto r = std::make_shared<Shell>();
  return {
      {required(word(r, &Shell::name, "SHELL", "SHELL", "bash or zsh", {"bash", "zsh"}, "completion for"))},
      [r] { return print_text(completion_script(r->name)); }};
}

Arguments declare_manual() {
  return {{}, [] { return print_text(manual_page()); }};
}

constexpr Verb kVerbs[] = {
    {"run", "One closed-loop run, as fast as possible",
     "duskline run dawn-dusk/equinox-sol --set duration='2 h' --out runs/first-look --force", declare_run},
    {"hil", "One closed-loop run held to the clock, with the controller at the end of a link",
     "duskline hil start-stop/hour-of-oxygen --set duration='60 s' --link in-process --speed 60 --out "
     "runs/real-time --force",
     declare_hil},
    {"verify", "Runs scenarios on all cores and judges their requirements",
     "duskline verify storms --no-record", declare_verify},
    {"tune", "Searches for better gains of the controller for a stated objective, over dispersed plants",
     "duskline tune tuning/dawn-demand --set tuning.budget=6 --set tuning.draws=1 --set tuning.held_out=2 "
     "--set "
     "duration='20 min' --out runs/first-tuning --force",
     declare_tune},
    {"linearize", "Linear models at an instant of a run: matrices, poles, margins of the loops",
     "duskline linearize dawn-dusk/equinox-sol --at '20 min' --out runs/linear --force", declare_linearize},
    {"falsify", "Searches for the disturbance that comes closest to violating a requirement",
     "duskline falsify dawn-dusk/any-dawn-or-dusk --runs 8 --force", declare_falsify},
    {"campaign",
     "Runs a scenario on many sampled plants, instruments and weathers; resumable, also under mpirun",
     "duskline campaign dawn-dusk/equinox-sol --set duration='10 min' --runs 4 --grade surroundings "
     "--out runs/first-campaign --force",
     declare_campaign},
    {"schedule",
     "Recommends set-points by season for a long run, from sols of each season with the worn plant",
     "duskline schedule mars-year --set duration='1 sol' --seasons 1 --least '10 g/h' --most '12 g/h' "
     "--step "
     "'2 g/h' --out runs/first-schedule --force",
     declare_schedule},
    {"train", "Serves the console on which people are trained, with an instructor's page and a debrief",
     "duskline train start-stop/hour-of-oxygen --check", declare_train},
    {"compare", "Two runs side by side: figures, verdicts, events, any signal of one over the other",
     "duskline compare runs/first-look runs/first-look --force", declare_compare},
    {"export", "Writes chosen signals of a recorded run as CSV",
     "duskline export runs/first-look --signal oxygen_rate,coke_margin --every '60 s'", declare_export},
    {"export-fmu", "Writes the plant of a scenario as a unit for co-simulation (FMI 2.0 or 3.0)",
     "duskline export-fmu start-stop/hour-of-oxygen --out runs/plant.fmu --force", declare_export_unit},
    {"show", "Draws signals of a recorded run in the terminal",
     "duskline show runs/first-look --signal coke_margin", declare_show},
    {"describe", "Every parameter, signal, fault and key with unit, range, meaning, source",
     "duskline describe signals margin", declare_describe},
    {"completion", "Prints the completion of command lines for a shell", "source <(duskline completion bash)",
     declare_completion},
    {"manual", "Prints the manual page", "duskline manual > duskline.1", declare_manual},
};

}  // namespace

std::span<const Verb> verb_table() {
  return kVerbs;
}

}  // namespace duskline::harness
