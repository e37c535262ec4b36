/// What the laws came to in a campaign, a row a law: the same numbers for the terminal, the page, JSON and the docs.
#pragma once

#include <string>
#include <vector>

#include "hil-harness/campaign/row.hpp"

namespace duskline::harness {

/// Of the bounds on shares: one-sided, Clopper and Pearson.
inline constexpr double kShareConfidence = 0.95;

/// A number of runs, and the share of all draws that they stand for at most: what a run that ended early would have come
/// to is unknown, so it counts with them there.
struct Share {
  std::size_t count{}, early{};  ///< early: runs that ended early, which are not among the count
  double upper_bound{};          ///< not a number where the runs are not independent draws
};

struct LawFigures {
  std::string law;
  std::size_t runs{};
  Share coke, nickel, surge, violated;  ///< passed a limit; violated a requirement or left it undecided
  bool can_surge{};                     ///< the machine
  std::uint64_t worst{};                ///< run with the least margin; 0: none has one
  double margin_min{}, margin_low{}, margin_median{};  ///< V: least, 5 % and median of the least margins
  double oxygen_mean{}, oxygen_low{};                  ///< kg: mean and 5 %
  double delivered{};                                  ///< share of the demand that was made, mean
  std::size_t bounded{};                               ///< runs with an upper bound on their oxygen
  double of_bound_mean{}, of_bound_low{};              ///< share of it that was made: mean and 5 %
  std::size_t tripped{}, diagnosed{}, suspected{}, alarmed{}, reported{},
      not_completed{};  ///< reported: any of the three before
};

LawFigures law_figures(const std::string& law, const std::vector<CampaignRow>& rows, Sampling sampling);

/// Whether oxygen is shown in kg instead of g.
bool in_kilograms(const std::vector<LawFigures>& laws);
/// For the terminal, in columns.
std::string law_text(const std::vector<LawFigures>& laws);
/// For a page of docs.
std::string law_markdown(const std::vector<LawFigures>& laws);
/// The same as cells of a table: a heading, then a row for each law.
std::vector<std::vector<std::string>> law_cells(const std::vector<LawFigures>& laws);
std::string law_json(const CampaignPlan& plan, const std::vector<LawFigures>& laws, bool complete,
                     const std::string& rare);

}  // namespace duskline::harness
