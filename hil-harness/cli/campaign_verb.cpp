#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <thread>
#include <utility>

#include "hil-harness/campaign/campaign.hpp"
#include "hil-harness/campaign/campaign_page.hpp"
#include "hil-harness/campaign/subset.hpp"
#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/links/controllers.hpp"
#include "hil-harness/loop/words.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;
using scenarios::Problem;

struct CampaignFolder {
  explicit CampaignFolder(fs::path f)
      : folder(std::move(f)),
        file(folder / "campaign.db"),
        rows(folder / "runs.csv"),
        page(folder / "campaign.html") {}
  /// What SQLite keeps beside its file while it is open goes with it.
  std::vector<fs::path> files() const {
    return {file, file.string() + "-wal", file.string() + "-shm", rows, page};
  }
  fs::path folder, file, rows, page;
};

std::vector<Problem> read_plan(const CampaignRequest& request, CampaignPlan& plan) {
  CaseSource& source = plan.source;
  source.name = request.scenario;
  source.plants = fs::path(home_folder()) / "plant-model" / "plants";
  source.settings = request.settings;
  auto read = source.open(scenario_file(request.scenario));
  if (!read) return read.problems;
  plan.base = std::move(*read.value);
  std::vector<Problem> problems;
  const auto refuse = [&](const char* option, std::string message) {
    problems.push_back({"command line", 1, 1, option, std::move(message)});
  };
  plan.laws = request.laws;
  if (plan.laws.empty()) plan.laws.emplace_back(law_word(plan.base.scenario.controller.law));
  for (std::size_t i = 0; i < plan.laws.size(); ++i)
    if (std::find(plan.laws.begin(), plan.laws.begin() + static_cast<std::ptrdiff_t>(i), plan.laws[i]) !=
        plan.laws.begin() + static_cast<std::ptrdiff_t>(i))
      refuse("--law", fmt::format("'{}' is given twice", plan.laws[i]));
  for (const DiffersWord& w : kDiffers)
    if ((request.differs.empty() && w.by_default) ||
        std::find(request.differs.begin(), request.differs.end(), w.word) != request.differs.end())
      plan.differs.push_back(w.differs);
  for (const SamplingWord& w : kSamplings)
    if (w.word == request.sampling) plan.sampling = w.sampling;
  plan.runs = request.runs.value_or(plan.runs);
  plan.seed = request.seed.value_or(plan.seed);
  plan.links = request.links;
  if (plan.runs < 1 || plan.runs > kRunsMax) refuse("--runs", fmt::format("is not from 1 to {}", kRunsMax));
  if (plan.seed < 1 || plan.seed > 1000) refuse("--seed", "is not from 1 to 1000");
  for (auto& problem : open_controllers(request.links, plan.base).problems)
    problems.push_back(std::move(problem));
  if (plan.sampling == Sampling::subset && plan.laws.size() > 1)
    refuse("--law", "subset simulation takes one law");
  if (plan.sampling == Sampling::subset && plan.runs < 50)
    refuse("--runs", "subset simulation takes at least 50");
  for (const DrawnTwice& twice : drawn_twice(plan))
    problems.push_back(
        scenarios::problem_at(source.text, source.name, source.settings, twice.path, twice.message));
  if (!problems.empty()) return problems;
  // the law of each run is set by a word: a law that this scenario cannot have is refused here
  for (const std::string& law : plan.laws)
    if (auto with = source.read(std::vector{"controller.law=" + law}); !with)
      problems.insert(problems.end(), with.problems.begin(), with.problems.end());
  return problems;
}

std::vector<LawRows> laws_of(const CampaignPlan& plan, const CampaignFile& file) {
  std::vector<LawRows> laws;
  for (const std::string& law : plan.laws) {
    auto rows = file.rows(law, plan.runs);
    if (!rows.empty()) laws.push_back({law_figures(law, rows, plan.sampling), std::move(rows)});
  }
  return laws;
}

std::string rare_words(const RareEvent& rare) {
  const double variation = 100.0 * rare.variation;
  if (rare.reached)
    return fmt::format(
        "coke limit passed with a probability of {:.2g} in a run (coefficient of variation {:.0f} %)",
        rare.probability, variation);
  return fmt::format(
      "coke limit passed with a probability below {:.2g} in a run (no point of the last level passed it: "
      "{:.0f} % bound of Clopper and Pearson on that level; coefficient of variation of the levels before "
      "{:.0f} %)",
      rare.probability, 100.0 * SubsetSimulation::kConfidence, variation);
}

std::string rare_json(const std::optional<RareEvent>& rare) {
  if (!rare) return "null";
  const std::string confidence =
      rare->reached ? "" : fmt::format(R"("confidence_of_last_level":{},)", SubsetSimulation::kConfidence);
  return fmt::format(R"({{"{}":{},{}"coefficient_of_variation":{}}})",
                     rare->reached ? "probability" : "probability_below", rare->probability, confidence,
                     rare->variation);
}

bool write_rows(const Draws& draws, const CampaignFile& file, const CampaignFolder& out) {
  std::vector<CampaignRow> rows;
  for (const std::string& law : file.laws()) {
    auto of_law = file.rows(law, kRunsMax);
    std::move(of_law.begin(), of_law.end(), std::back_inserter(rows));
  }
  return write_whole(out.rows, campaign_csv(draws.inputs(), std::move(rows)));
}

/// The worst runs as scenarios, where no command of settings gives their plant.
bool write_worst(const CampaignPlan& plan, const Draws& draws, const CampaignFolder& out,
                 const std::vector<LawRows>& laws) {
  bool well = true;
  for (const LawRows& law : laws)
    for (const CampaignRow* row : worst_of(law.rows, kWorstRuns)) {
      if (!replay_command(plan, draws, *row).empty()) continue;
      std::error_code error;
      fs::create_directories(out.folder / "worst", error);
      scenarios::Case c = draws.case_of(draws.draw(row->run), row->law);
      // shares that are divided by their mean may leave the range that they were drawn from
      const auto table = plant::parameter_table();
      for (std::size_t i = 0; i < table.size(); ++i)
        for (const double value : table[i].get(c.plant.parameters)) {
          c.plant.notes[i].lower = std::min(c.plant.notes[i].lower, value);
          c.plant.notes[i].upper = std::max(c.plant.notes[i].upper, value);
        }
      if (!c.weather_file.empty()) c.scenario.weather = fs::absolute(c.weather_file).string();
      well =
          well && write_whole(out.folder / replay_file(*row), scenarios::write_resolved(c.scenario, c.plant));
    }
  return well;
}

/// Works the campaign off and writes what came of it; rank 0 only. `ranks` is null afterwards when they have worked.
int conduct(const CampaignRequest& request, const CampaignPlan& plan, Draws& draws, Ranks*& ranks) {
  const CampaignFolder out{request.out.empty()
                               ? fs::path("runs") / "campaign" / fs::path(request.scenario).stem()
                               : fs::path(request.out)};
  const auto refuse = [](const std::vector<Problem>& problems) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  };
  std::error_code error;
  if (fs::exists(out.folder, error) && !fs::is_directory(out.folder, error))
    return refuse({{"--out", 1, 1, out.folder.string(), "is a file; --out names a folder"}});
  FolderLock lock;
  if (const auto problems = open_folder(out.folder, lock); !problems.empty()) return refuse(problems);
  if (!request.force && !fs::exists(out.file, error))
    if (const auto problems = make_room(out.folder, out.files(), "other files", false); !problems.empty())
      return refuse(problems);
  if (request.force)
    for (const fs::path& path : out.files()) fs::remove(path, error);
  CampaignFile file;
  if (const std::string problem = file.open(out.file.string(), plan, draws); !problem.empty()) {
    if (!file.disk_failed()) return refuse({{"--out", 1, 1, out.file.string(), problem}});
    print_error(fmt::format("not completed: {} {}; the same call goes on\n", out.file.string(), problem));
    return kNotCompleted;
  }
  if (file.size() > 0)
    if (const std::string problem = check_again(plan, draws, file, &stop_wanted()); !problem.empty())
      return refuse({{"--out", 1, 1, out.file.string(), problem}});

  Progress progress("campaign", request.quiet);
  CampaignOptions options;
  options.threads = request.jobs > 0 ? static_cast<unsigned>(std::min<std::uint64_t>(request.jobs, 256))
                                     : std::max(1U, std::thread::hardware_concurrency());
  if (one_at_a_time(request.links)) options.threads = 1;
  options.interrupted = &stop_wanted();
  options.progress = [&](double share) { progress.show(share); };
  options.ranks = std::exchange(ranks, nullptr);
  const CampaignOutcome outcome = complete_runs(plan, draws, file, options);
  progress.clear();
  const std::string& missing = outcome.missing;
  const std::string rare = outcome.rare ? rare_words(*outcome.rare) : "";

  bool written = file.size() == 0 || write_rows(draws, file, out);
  const std::vector<LawRows> laws = laws_of(plan, file);
  std::vector<LawFigures> figures;
  for (const LawRows& law : laws) figures.push_back(law.figures);
  if (!laws.empty())
    written = write_whole(out.page, campaign_page(plan, draws, laws, rare)) &&
              write_worst(plan, draws, out, laws) && written;
  if (request.json)
    print(law_json(plan, figures, missing.empty(), rare_json(outcome.rare)));
  else if (request.markdown)
    print(law_markdown(figures));
  else if (!request.quiet && !laws.empty())
    print(plan.base.scenario.title + "\n" + law_text(figures) + (rare.empty() ? "" : "  " + rare + "\n") +
          fmt::format("  {:<26}{}\n", "written to", out.folder.string()));
  if (!missing.empty()) {
    print_error(fmt::format("not completed: {}; {} of {} runs are kept, the same call goes on\n", missing,
                            file.size(), plan.runs * plan.laws.size()));
    return kNotCompleted;
  }
  if (!written) return kNotCompleted;
  const auto any = [&](auto of) { return std::any_of(figures.begin(), figures.end(), of); };
  if (any([](const LawFigures& f) { return f.not_completed > 0; })) return kNotCompleted;
  return any([](const LawFigures& f) { return f.violated.count > 0; }) ? kViolated : kSuccess;
}

}  // namespace

int campaign_verb(const CampaignRequest& request) {
  CampaignPlan plan;
  auto problems = read_plan(request, plan);
  const bool several = started_by_mpirun();
  if (several && request.jobs > 0)
    problems.push_back({"command line", 1, 1, "--jobs", "mpirun says how many processes work (-n)"});
  if (several && plan.sampling == Sampling::subset)
    problems.push_back(
        {"command line", 1, 1, "--sampling", "subset simulation works on one machine, with --jobs"});
  if (several && one_at_a_time(request.links))
    problems.push_back({"command line", 1, 1, "--link", "one run at a time has this link: not under mpirun"});
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");
  listen_for_stop();  // before there is anything to leave behind
  Draws draws(plan);
  Ranks* waiting = nullptr;
  if (!several) return conduct(request, plan, draws, waiting);
  std::string problem;
  const auto ranks = Ranks::join(problem);
  if (!ranks) {
    print_error(problem + "\n");
    return kNotCompleted;
  }
  if (ranks->rank() > 0) {
    serve_rank(plan, draws, *ranks, stop_wanted());
    return kSuccess;
  }
  waiting = ranks.get();
  const int code = conduct(request, plan, draws, waiting);
  if (waiting != nullptr) dismiss(*waiting);
  return code;
}

}  // namespace duskline::harness
