/// A campaign on disk: one SQLite file, a row for each run and law, written when the run is over.
///
/// What it is   the tables `campaign` (what the runs are), `figures` (meaning of the columns), `inputs` (what is drawn),
///              `runs` (a row for each run and law)
/// Validity     survives an end of the process at any moment and a full disk: a row is there whole or not at all
/// Left out     the traces
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "hil-harness/campaign/row.hpp"

struct sqlite3;

namespace duskline::harness {

inline constexpr const char* kCampaignFormat = "duskline-campaign/3";

/// What the runs depend on, as text; laws and the number of runs may grow.
std::string campaign_identity(const CampaignPlan& plan);

class CampaignFile {
 public:
  CampaignFile() = default;
  ~CampaignFile();
  CampaignFile(const CampaignFile&) = delete;
  CampaignFile& operator=(const CampaignFile&) = delete;

  /// Opens the campaign of this plan, or begins it. The problem, or an empty text.
  std::string open(const std::string& path, const CampaignPlan& plan, const Draws& draws);
  /// False when it could not be written; problem() says why.
  bool add(const CampaignRow& row);
  bool holds(std::uint64_t run, const std::string& law) const { return done_.contains({run, law}); }
  std::size_t size() const { return done_.size(); }
  /// The rows of a law up to a run, in the order of the runs.
  std::vector<CampaignRow> rows(const std::string& law, std::uint64_t last) const;
  /// The laws in it.
  std::vector<std::string> laws() const;
  const std::string& problem() const { return problem_; }
  /// What went wrong last lies with the disk: it is full, or does not write.
  bool disk_failed() const;

 private:
  bool run(const char* sql);

  sqlite3* db_{};
  std::set<std::pair<std::uint64_t, std::string>> done_;
  std::string problem_;
};

/// All rows as CSV, by run and law: the same bytes whoever wrote the rows and when; an input that has a column
/// already gets no second one.
std::string campaign_csv(std::vector<DrawnInput> inputs, std::vector<CampaignRow> rows);

/// What the file holds, for its reference page.
struct CampaignColumn {
  std::string table, name, unit, meaning;
};
std::vector<CampaignColumn> campaign_columns();

}  // namespace duskline::harness
