/// The candidates that were tried, one line of JSON each, so that a search that was stopped goes on.
///
/// The first line names the task (a hash of everything that decides the result). A search that begins again walks
/// the same way and finds here what it has worked out before. Numbers are written so that they read back exactly.
/// Left out: the runs of a candidate that was not finished.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "hil-harness/tune/trial.hpp"

namespace duskline::harness {

struct Candidate {
  std::vector<double> values;  ///< of the gains
  Worth worth;
};

class Journal {
 public:
  /// Reads what is there; a problem when the file is of another task or is no journal. A last line that was cut off
  /// is left out.
  static Journal open(const std::filesystem::path& path, std::uint64_t task, std::string& problem);

  std::optional<Worth> find(const std::vector<double>& values) const;
  /// Adds a candidate and appends its line at once; false when it cannot be written.
  bool add(const Candidate& candidate);
  std::size_t known() const { return known_.size(); }

  /// The journal of these candidates, as an uninterrupted search would have written it: what was worked out after the
  /// search (margins of the front) is not in it.
  std::string text(const std::vector<Candidate>& candidates) const;

 private:
  std::filesystem::path path_;
  std::uint64_t task_{};
  std::map<std::vector<double>, Worth> known_;
};

}  // namespace duskline::harness
