#include "hil-harness/train/session_file.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include "hil-harness/batch/statement.hpp"

namespace duskline::harness {
namespace {

constexpr const char* kSchema = R"(
PRAGMA journal_mode=WAL;
PRAGMA synchronous=NORMAL;
CREATE TABLE IF NOT EXISTS session(key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS branches(id INTEGER PRIMARY KEY, parent INTEGER, tick INTEGER NOT NULL);
CREATE TABLE IF NOT EXISTS acts(id INTEGER PRIMARY KEY, branch INTEGER NOT NULL, due REAL NOT NULL, act TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS saved(name TEXT PRIMARY KEY, branch INTEGER NOT NULL, tick INTEGER NOT NULL,
  act INTEGER);
CREATE TABLE IF NOT EXISTS marks(procedure TEXT, step INTEGER, done INTEGER NOT NULL, PRIMARY KEY(procedure, step));
CREATE TABLE IF NOT EXISTS progress(id INTEGER PRIMARY KEY CHECK(id = 1), branch INTEGER NOT NULL, tick INTEGER NOT NULL);
INSERT OR IGNORE INTO branches VALUES(1, NULL, 0);
INSERT OR IGNORE INTO progress VALUES(1, 1, 0);
)";

template <class Act>
void merge(std::vector<Act>& to, const std::vector<Act>& from) {
  for (const Act& act : from) scenarios::insert_act(to, act);
}

}  // namespace

void merge_acts(scenarios::Acts& to, const scenarios::Acts& from) {
  for (scenarios::FaultClearing clearing : from.cleared) {
    clearing.withdrawn += std::erase_if(to.faults, [&clearing](const plant::FaultEvent& fault) {
      return fault.at >= clearing.at && scenarios::is_meant(clearing, fault);
    });
    scenarios::insert_act(to.cleared, std::move(clearing));
  }
  merge(to.requests, from.requests);
  merge(to.operator_actions, from.operator_actions);
  merge(to.events, from.events);
  merge(to.faults, from.faults);
  merge(to.causes, from.causes);
  merge(to.notes, from.notes);
}

SessionFile::~SessionFile() {
  sqlite3_close(db_);
}

bool SessionFile::run(const char* sql) {
  return run_sql(db_, sql, problem_);
}

bool SessionFile::step(Statement& statement) {
  if (statement.done()) return true;
  problem_ = sqlite3_errmsg(db_);
  return false;
}

std::string SessionFile::open(const std::string& path, const std::string& scenario) {
  if (sqlite3_open(path.empty() ? ":memory:" : path.c_str(), &db_) != SQLITE_OK)
    return fmt::format("cannot be opened: {}", sqlite3_errmsg(db_));
  sqlite3_busy_timeout(db_, 2000);
  // a session belongs to one process: the lock is kept as long as the file is open
  if (!path.empty() && !run("PRAGMA locking_mode=EXCLUSIVE")) return problem_;
  if (!run(kSchema))
    return sqlite3_errcode(db_) == SQLITE_BUSY ? "is in use by another duskline"
                                               : fmt::format("is no session: {}", problem_);
  // files of older versions have no such column
  if (!Statement(db_, "SELECT 1 FROM pragma_table_info('saved') WHERE name='act'").row() &&
      !run("ALTER TABLE saved ADD COLUMN act INTEGER"))
    return problem_;
  Statement known(db_, "SELECT value FROM session WHERE key='scenario'");
  if (known.row()) {
    if (known.text(0) != scenario)
      return "belongs to another scenario, or the scenario has changed since; name another file";
  } else {
    Statement add(db_, "INSERT INTO session VALUES('scenario', ?)");
    if (!step(add.bind(scenario))) return problem_;
    if (!run("INSERT INTO session VALUES('format', 'duskline-session/1')")) return problem_;
  }
  Statement at(db_, "SELECT branch, tick FROM progress");
  if (at.row()) {
    branch_ = at.whole(0);
    tick_ = at.whole(1);
  }
  return {};
}

std::int64_t SessionFile::branches() const {
  Statement count(db_, "SELECT COUNT(*) FROM branches");
  return count.row() ? count.whole(0) : 1;
}

scenarios::Acts SessionFile::acts(std::int64_t branch) const {
  scenarios::Acts all;
  Statement rows(db_, "SELECT act FROM acts WHERE branch=? ORDER BY id");
  rows.bind(branch);
  while (rows.row())
    if (const auto one = scenarios::parse_acts(rows.text(0), "session")) merge_acts(all, *one.value);
  return all;
}

std::vector<SessionFile::Saved> SessionFile::saved() const {
  std::vector<Saved> all;
  Statement rows(db_, "SELECT name, branch, tick, COALESCE(act, -1) FROM saved ORDER BY name");
  while (rows.row()) all.push_back({rows.text(0), rows.whole(1), rows.whole(2), rows.whole(3)});
  return all;
}

std::vector<SessionFile::Mark> SessionFile::marks() const {
  std::vector<Mark> all;
  Statement rows(db_, "SELECT procedure, step, done FROM marks ORDER BY procedure, step");
  while (rows.row()) all.push_back({rows.text(0), rows.whole(1), rows.whole(2) != 0});
  return all;
}

bool SessionFile::add(const scenarios::Acts& act, double due) {
  Statement insert(db_, "INSERT INTO acts(branch, due, act) VALUES(?, ?, ?)");
  return step(insert.bind(branch_).bind(due).bind(scenarios::write_acts(act)));
}

bool SessionFile::reached(std::int64_t tick) {
  Statement update(db_, "UPDATE progress SET branch=?, tick=?");
  if (!step(update.bind(branch_).bind(tick))) return false;
  tick_ = tick;
  return true;
}

bool SessionFile::save(const std::string& name, std::int64_t tick) {
  Statement insert(
      db_, "INSERT OR REPLACE INTO saved SELECT ?1, ?2, ?3, COALESCE(MAX(id), 0) FROM acts WHERE branch=?2");
  return step(insert.bind(name).bind(branch_).bind(tick));
}

bool SessionFile::mark(const Mark& mark) {
  Statement insert(db_, "INSERT OR REPLACE INTO marks VALUES(?, ?, ?)");
  return step(insert.bind(mark.procedure).bind(mark.step).bind(std::int64_t{mark.done ? 1 : 0}));
}

bool SessionFile::branch_off(std::int64_t from, std::int64_t tick, double before, std::int64_t last) {
  if (!run("BEGIN")) return false;
  Statement branch(db_, "INSERT INTO branches(parent, tick) VALUES(?, ?)");
  bool well = step(branch.bind(from).bind(tick));
  const std::int64_t made = sqlite3_last_insert_rowid(db_);
  Statement copy(db_,
                 "INSERT INTO acts(branch, due, act) SELECT ?1, due, act FROM acts WHERE branch=?2 AND "
                 "CASE WHEN ?4<0 THEN due<?3 ELSE id<=?4 END ORDER BY id");
  well = well && step(copy.bind(made).bind(from).bind(before).bind(last));
  Statement progress(db_, "UPDATE progress SET branch=?, tick=?");
  well = well && step(progress.bind(made).bind(tick));
  if (!run(well ? "COMMIT" : "ROLLBACK") || !well) return false;
  branch_ = made;
  tick_ = tick;
  return true;
}

}  // namespace duskline::harness
