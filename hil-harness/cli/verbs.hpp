/// What each verb is given and does; parsing of the command line is elsewhere (command_line.hpp).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hil-harness/cli/exit_codes.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

struct RunRequest {
  std::string scenario;
  std::string out;                    ///< folder; empty: runs/<name of the scenario>
  std::vector<std::string> settings;  ///< path=value
  std::optional<std::uint64_t> seed;
  std::string span;                ///< how long the run lasts; empty: as the scenario says
  std::vector<std::string> links;  ///< to the controllers; empty: those in this program
  std::string acts;                ///< file of what people do; empty: nothing
  std::string compare;             ///< word of a law to run as well and to compare with; empty: none
  double speed = 0.0;              ///< s of plant in a second of the clock; 0: as fast as possible
  bool json = false, quiet = false, force = false, record = true, check = false, resume = false;
};
int run_verb(const RunRequest& request);

struct VerifyRequest {
  std::vector<std::string> paths;     ///< files and folders
  std::vector<std::string> tags;      ///< only scenarios that have all of them
  std::vector<std::string> settings;  ///< path=value, for every scenario
  std::string out;                    ///< folder for traces and reports of what failed
  std::string junit, tap;             ///< files; empty: none
  std::string accepted;               ///< folder of the accepted results; empty: none
  std::vector<std::string> links;     ///< to the controllers of every run; empty: those in this program
  std::uint64_t jobs = 0;             ///< threads; 0: one for each processor
  bool record = true;                 ///< what failed is run once more, with trace and report
  bool update_accepted = false, check = false;  ///< check: only read the files and say what is wrong
  bool json = false, quiet = false, force = false;
};
int verify_verb(const VerifyRequest& request);

struct CompareRequest {
  std::string a, b;  ///< folders of two runs
  std::string out;   ///< folder for the page; empty: runs/compare/<A>-and-<B>
  bool json = false, quiet = false, force = false;
};
int compare_verb(const CompareRequest& request);

struct FalsifyRequest {
  std::string scenario;
  std::string out;                    ///< folder; empty: runs/falsify/<name of the scenario>
  std::vector<std::string> settings;  ///< path=value
  std::string requirement;            ///< name; empty: as the scenario says
  std::vector<std::string> links;     ///< to the controllers of every run; empty: those in this program
  std::optional<std::uint64_t> runs, seed;
  std::uint64_t jobs = 0;  ///< threads; 0: one for each processor
  bool go_on = false, resume = false, json = false, quiet = false, force = false, check = false;
};
int falsify_verb(const FalsifyRequest& request);

struct CampaignRequest {
  std::string scenario;
  std::string out;                    ///< folder; empty: runs/campaign/<name of the scenario>
  std::vector<std::string> settings;  ///< path=value
  std::vector<std::string> laws;      ///< words; empty: the law of the scenario
  std::vector<std::string> differs;   ///< words of kDiffers; empty: those that differ by default
  std::string sampling;               ///< a word of kSamplings; empty: independent
  std::vector<std::string> links;     ///< to the controllers of every run; empty: those in this program
  std::optional<std::uint64_t> runs, seed;
  std::uint64_t jobs = 0;  ///< threads; 0: one for each processor
  bool markdown = false, json = false, quiet = false, force = false, check = false;
};
int campaign_verb(const CampaignRequest& request);

struct ScheduleRequest {
  std::string scenario;
  std::string out;                    ///< folder; empty: runs/schedule/<name of the scenario>
  std::vector<std::string> settings;  ///< path=value
  std::string least, most, step;      ///< rates of oxygen; empty: from the demand of the scenario
  std::uint64_t seasons = 12;
  std::uint64_t jobs = 0;  ///< threads; 0: one for each processor
  bool json = false, quiet = false, force = false, check = false;
};
int schedule_verb(const ScheduleRequest& request);

struct ExportUnitRequest {
  std::string scenario, out;          ///< file to write
  std::string standard = "2";         ///< version of FMI
  std::vector<std::string> settings;  ///< path=value
  std::optional<std::uint64_t> seed;
  bool force = false;
};
int export_unit_verb(const ExportUnitRequest& request);

struct LinearizeRequest {
  std::string scenario, at;           ///< local time or time since the start
  std::string out;                    ///< folder; empty: runs/<name of the scenario>/linear
  std::string link;                   ///< to the controller; empty: the one in this program
  std::vector<std::string> settings;  ///< path=value
  std::optional<std::uint64_t> seed;
  bool json = false, quiet = false, force = false, check = false;
};
int linearize_verb(const LinearizeRequest& request);

struct TuneRequest {
  std::string scenario;
  std::string out;                    ///< folder; empty: runs/<name of the scenario>-tuned
  std::vector<std::string> settings;  ///< path=value
  std::vector<std::string> starts;    ///< controller files to start from beside the scenario's own gains
  std::optional<std::uint64_t> seed;
  std::uint64_t jobs = 0;  ///< threads; 0: one for each processor
  bool relay = false, json = false, quiet = false, force = false, check = false;
};
int tune_verb(const TuneRequest& request);

struct TrainRequest {
  std::string scenario;               ///< or an exercise
  std::vector<std::string> settings;  ///< path=value
  std::string listen, keys;           ///< address and file of keys; empty: this machine alone, without keys
  std::string session;                ///< file; empty: the session is not kept
  std::string speed;                  ///< times real time; empty: 1
  std::uint64_t port = 0;             ///< 0: any that is free
  bool quiet = false, check = false;
};
int train_verb(const TrainRequest& request);

struct DescribeRequest {
  std::string topic;   ///< a word of topics(), or the name of an entry; empty: the list of topics
  std::string filter;  ///< only entries that hold this text
  std::string plant = "bench";
  bool json = false, markdown = false;
};
int describe_verb(const DescribeRequest& request);
/// Why `topic` can be neither a topic nor the name of an entry of any plant; empty: it is one of them.
std::string unknown_entry(const std::string& topic);

struct ExportRequest {
  std::string run;                   ///< folder of a run, or a trace
  std::vector<std::string> signals;  ///< names, several between commas
  std::vector<std::string> units;    ///< signal=unit
  std::string from, to, every;       ///< durations; empty: all
  std::string out;                   ///< file; empty: standard output
  bool force = false;
};
int export_verb(const ExportRequest& request);

struct ShowRequest {
  std::string run;
  std::vector<std::string> signals, units;
  std::string from, to;
  std::uint64_t width = 0, height = 0;  ///< 0: those of the terminal, 16
  bool ascii = false;
};
int show_verb(const ShowRequest& request);

/// Prints to standard output.
int print_text(const std::string& text);

/// Folder that holds the plants and scenarios that ship: DUSKLINE_HOME, else share/duskline beside the bin/ of an
/// installed program, else where this program was built from.
std::string home_folder();
/// What is wrong with that folder.
std::vector<scenarios::Problem> problems_of_home();

/// The file of a scenario: itself where there is one, else that of the library or the exercise with this name (with or
/// without its folder and its ending); also a folder of the library.
std::string scenario_file(const std::string& given);
/// That there is none, and the nearest name.
std::vector<scenarios::Problem> problems_of_scenario_name(const std::string& given);

}  // namespace duskline::harness
