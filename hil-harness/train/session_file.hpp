/// A training session on disk: one SQLite file that holds every act before it takes effect.
///
/// What it is   branches of acts: a session that goes back begins a branch with the acts up to there; what came after
///              stays in the older branch. Each act is kept as a file of acts of its own (scenarios/reader/acts.hpp)
/// Validity     survives an end of the process at any moment; the plant's own state is not kept, it is run again
/// Left out     a disk that loses power: the last moments may be missing then
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "scenarios/reader/acts.hpp"

struct sqlite3;

namespace duskline::harness {

class Statement;

class SessionFile {
 public:
  static constexpr std::int64_t kByTime = -1;  ///< no number of an act: the time decides

  struct Saved {
    std::string name;
    std::int64_t branch{}, tick{};
    std::int64_t act{};  ///< the latest one then; kByTime: a file of an older version does not say
  };
  struct Mark {
    std::string procedure;
    std::int64_t step{};
    bool done{};
  };

  /// Opens or makes the file; an empty path keeps the session in memory. `scenario` is the resolved text that the
  /// session belongs to. The problem, or an empty text.
  std::string open(const std::string& path, const std::string& scenario);
  ~SessionFile();

  std::int64_t branch() const { return branch_; }
  /// Where the session stood: branch and tick of its last entry.
  std::int64_t tick() const { return tick_; }
  std::int64_t branches() const;
  /// All acts of a branch.
  scenarios::Acts acts(std::int64_t branch) const;
  std::vector<Saved> saved() const;
  std::vector<Mark> marks() const;

  // Each is false when it could not be written; problem() says why.
  bool add(const scenarios::Acts& act, double due);
  bool reached(std::int64_t tick);
  bool save(const std::string& name, std::int64_t tick);
  bool mark(const Mark& mark);
  /// A new branch with the acts of an old one, as far as `last`; kByTime: those decided before a time.
  bool branch_off(std::int64_t from, std::int64_t tick, double before, std::int64_t last = kByTime);
  const std::string& problem() const { return problem_; }

 private:
  bool run(const char* sql);
  bool step(Statement& statement);

  sqlite3* db_{};
  std::int64_t branch_{1}, tick_{};
  std::string problem_;
};

/// All acts of `from`, which came later, put among those of `to`; faults of `to` that it ends before they begin
/// are taken out.
void merge_acts(scenarios::Acts& to, const scenarios::Acts& from);

}  // namespace duskline::harness
