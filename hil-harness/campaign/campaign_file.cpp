#include "hil-harness/campaign/campaign_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "hil-harness/batch/identity.hpp"
#include "hil-harness/batch/statement.hpp"
#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

/// A column of the table `runs` that is no figure.
struct Column {
  const char *name, *type, *meaning;
};
constexpr Column kBefore[] = {
    {"run", "INTEGER NOT NULL", "number of the run, from 1"},
    {"law", "TEXT NOT NULL", "control law"},
    {"plant_draw", "INTEGER NOT NULL", "as the key of the scenario; 0: it does not give this plant"},
    {"seed", "INTEGER NOT NULL", "as the key of the scenario; 0: that of the scenario"},
};
constexpr Column kAfter[] = {
    {"ended", "TEXT NOT NULL", "how the run ended (run-ends.md)"},
    {"ended_at", "REAL NOT NULL", "when, s"},
    {"draws", "TEXT NOT NULL", "JSON object: the number or word of each input of the table `inputs`"},
    {"verdicts", "TEXT NOT NULL", "JSON list: requirement, verdict, margin, its unit, time [s]"},
    {"events", "TEXT NOT NULL",
     "JSON list: time [s], kind, subject, count, of trips, limits passed, diagnoses and alarms"},
};

std::string schema() {
  std::string runs;
  for (const Column& c : kBefore) runs += fmt::format("{} {}, ", c.name, c.type);
  for (const CampaignFigure& f : kCampaignFigures) runs += fmt::format("{} REAL, ", f.name);
  for (const Column& c : kAfter) runs += fmt::format("{} {}, ", c.name, c.type);
  return "PRAGMA journal_mode=WAL;\nPRAGMA synchronous=FULL;\n"
         "CREATE TABLE IF NOT EXISTS campaign(key TEXT PRIMARY KEY, value TEXT NOT NULL);\n"
         "CREATE TABLE IF NOT EXISTS figures(name TEXT PRIMARY KEY, unit TEXT NOT NULL, meaning TEXT NOT "
         "NULL);\n"
         "CREATE TABLE IF NOT EXISTS inputs(place INTEGER PRIMARY KEY, name TEXT NOT NULL, unit TEXT NOT "
         "NULL);\n"
         "CREATE TABLE IF NOT EXISTS runs(" +
         runs + "PRIMARY KEY(run, law)) WITHOUT ROWID;\n";
}

std::string in_csv(const std::string& text) {
  if (text.find_first_of(",\"\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

/// An input that stands in a column of its own already.
bool has_column(const DrawnInput& input) {
  return std::any_of(std::begin(kBefore), std::end(kBefore),
                     [&](const Column& c) { return input.name == c.name; });
}

std::string in_csv(double v) {
  return std::isfinite(v) ? fmt::format("{}", v) : "";
}

}  // namespace

std::string campaign_identity(const CampaignPlan& plan) {
  std::string differs;
  for (const DiffersWord& w : kDiffers)
    if (plan.has(w.differs)) differs += fmt::format(" {}", w.word);
  std::string text = fmt::format("{}\nseed {}\ndiffers{}\nlink {}\n", identity_of(plan.base), plan.seed,
                                 differs, joined(plan.links));
  text += kSamplings[static_cast<std::size_t>(plan.sampling)].word;
  if (plan.sampling == Sampling::latin_hypercube || plan.sampling == Sampling::subset)
    text += fmt::format(" of {} runs", plan.runs);
  if (plan.sampling == Sampling::subset) text += " with " + plan.laws.front();
  return text;
}

CampaignFile::~CampaignFile() {
  sqlite3_close(db_);
}

bool CampaignFile::disk_failed() const {
  const int code = sqlite3_errcode(db_) & 0xff;  // without what SQLite adds to it
  return code == SQLITE_FULL || code == SQLITE_IOERR;
}

bool CampaignFile::run(const char* sql) {
  return run_sql(db_, sql, problem_);
}

std::string CampaignFile::open(const std::string& path, const CampaignPlan& plan, const Draws& draws) {
  if (sqlite3_open(path.c_str(), &db_) != SQLITE_OK)
    return fmt::format("cannot be opened: {}", sqlite3_errmsg(db_));
  sqlite3_busy_timeout(db_, 2000);
  if (!run(schema().c_str())) return fmt::format("is no campaign that can be written: {}", problem_);
  const auto value_of = [this](const char* key) {
    Statement find(db_, "SELECT value FROM campaign WHERE key=?");
    return find.bind(std::string(key)).row() ? find.text(0) : std::string{};
  };
  const std::string identity = fmt::format("{:016x}", plant::stream_hash(campaign_identity(plan)));
  if (const std::string format = value_of("format"); format.empty()) {
    bool well = run("BEGIN");
    const auto keep = [&](const char* key, const std::string& value) {
      Statement add(db_, "INSERT INTO campaign VALUES(?, ?)");
      well = well && add.bind(std::string(key)).bind(value).done();
    };
    keep("identity", identity);
    keep("scenario", scenarios::write_resolved(plan.base.scenario, plan.base.plant));
    keep("seed", std::to_string(plan.seed));
    keep("sampling", std::string(kSamplings[static_cast<std::size_t>(plan.sampling)].word));
    for (const CampaignFigure& f : kCampaignFigures) {
      Statement add(db_, "INSERT INTO figures VALUES(?, ?, ?)");
      well =
          well && add.bind(std::string(f.name)).bind(std::string(f.unit)).bind(std::string(f.meaning)).done();
    }
    std::int64_t place = 0;
    for (const DrawnInput& input : draws.inputs()) {
      Statement add(db_, "INSERT INTO inputs VALUES(?, ?, ?)");
      well = well && add.bind(++place).bind(input.name).bind(input.unit).done();
    }
    keep("format", kCampaignFormat);
    if (!well || !run("COMMIT")) return fmt::format("cannot be written: {}", sqlite3_errmsg(db_));
  } else if (format != kCampaignFormat) {
    return fmt::format("is of the format {}, this program writes {}", format, kCampaignFormat);
  } else if (value_of("identity") != identity) {
    return "is another campaign: scenario, plant, settings, seed or sampling differ; --force starts over";
  }
  Statement all(db_, "SELECT run, law FROM runs");
  while (all.row()) done_.emplace(static_cast<std::uint64_t>(all.whole(0)), all.text(1));
  return {};
}

bool CampaignFile::add(const CampaignRow& row) {
  static const std::string sql = [] {
    std::string marks = "?";
    for (std::size_t i = 1; i < std::size(kBefore) + kFigureCount + std::size(kAfter); ++i) marks += ", ?";
    return "INSERT INTO runs VALUES(" + marks + ")";
  }();
  Statement insert(db_, sql.c_str());
  insert.bind(static_cast<std::int64_t>(row.run)).bind(row.law);
  insert.bind(static_cast<std::int64_t>(row.plant_draw)).bind(static_cast<std::int64_t>(row.seed));
  for (const double value : row.figures) insert.bind(value);
  insert.bind(row.ended).bind(row.ended_at).bind(row.draws).bind(row.verdicts).bind(row.events);
  if (!insert.done()) {
    problem_ = sqlite3_errmsg(db_);
    return false;
  }
  done_.emplace(row.run, row.law);
  return true;
}

std::vector<CampaignRow> CampaignFile::rows(const std::string& law, std::uint64_t last) const {
  std::vector<CampaignRow> rows;
  Statement all(db_, "SELECT * FROM runs WHERE law=? AND run<=? ORDER BY run");
  all.bind(law).bind(static_cast<std::int64_t>(last));
  while (all.row()) {
    CampaignRow row;
    row.run = static_cast<std::uint64_t>(all.whole(0));
    row.law = all.text(1);
    row.plant_draw = static_cast<std::uint64_t>(all.whole(2));
    row.seed = static_cast<std::uint64_t>(all.whole(3));
    int column = static_cast<int>(std::size(kBefore));
    for (double& value : row.figures) value = all.number(column++);
    row.ended = all.text(column);
    row.ended_at = all.number(column + 1);
    row.draws = all.text(column + 2);
    row.verdicts = all.text(column + 3);
    row.events = all.text(column + 4);
    rows.push_back(std::move(row));
  }
  return rows;
}

std::vector<std::string> CampaignFile::laws() const {
  std::set<std::string> all;
  for (const auto& [run, law] : done_) all.insert(law);
  return {all.begin(), all.end()};
}

std::string campaign_csv(std::vector<DrawnInput> inputs, std::vector<CampaignRow> rows) {
  std::erase_if(inputs, has_column);
  std::sort(rows.begin(), rows.end(), [](const CampaignRow& a, const CampaignRow& b) {
    return std::tie(a.run, a.law) < std::tie(b.run, b.law);
  });
  std::string text;
  for (const Column& c : kBefore) text += fmt::format("{},", c.name);
  for (const CampaignFigure& f : kCampaignFigures) text += fmt::format("{},", f.name);
  text += "ended,ended_at,verdicts,events";
  for (const DrawnInput& input : inputs) text += "," + in_csv(input.name);
  text += "\n";
  for (const CampaignRow& row : rows) {
    text += fmt::format("{},{},{},{}", row.run, row.law, row.plant_draw, row.seed);
    for (const double value : row.figures) text += "," + in_csv(value);
    text += fmt::format(",{},{},{},{}", in_csv(row.ended), in_csv(row.ended_at), in_csv(row.verdicts),
                        in_csv(row.events));
    const auto draws = nlohmann::json::parse(row.draws, nullptr, false);
    for (const DrawnInput& input : inputs) {
      const auto value = draws.find(input.name);
      text += ",";
      if (value == draws.end()) continue;
      if (value->is_number()) text += in_csv(value->get<double>());
      if (value->is_string()) text += in_csv(value->get<std::string>());
    }
    text += "\n";
  }
  return text;
}

std::vector<CampaignColumn> campaign_columns() {
  std::vector<CampaignColumn> all{
      {"campaign", "key, value", "",
       "format, identity (hash of all that the runs depend on but the program, the laws and the number of "
       "runs), "
       "the resolved scenario, seed, sampling"},
      {"figures", "name, unit, meaning", "", "the columns of `runs` that hold figures"},
      {"inputs", "place, name, unit", "",
       "what is drawn, in the order of the draws; unit `word`: the variant of a part"}};
  for (const Column& c : kBefore) all.push_back({"runs", c.name, "", c.meaning});
  for (const CampaignFigure& f : kCampaignFigures)
    all.push_back({"runs", std::string(f.name), std::string(f.unit), std::string(f.meaning)});
  for (const Column& c : kAfter) all.push_back({"runs", c.name, "", c.meaning});
  return all;
}

}  // namespace duskline::harness
