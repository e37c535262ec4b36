/// What the runs of a campaign are: each a pure function of the case, the seed of the campaign and its own number.
///
/// What it is   a plant drawn from the ranges of its file, a seed of instruments and weather, and the numbers under
///              `campaign.vary` of the scenario, each by the number of the run; every law gets the same draw
/// Equation     number = 1 000 000 (seed - 1) + run; independent draws are `plant_draw=number`, `seed=number`
/// Symbols      run 1, 2, ... at most kRunsMax; share of a range from sampling.hpp
/// Validity     what `vary` sets is no more drawn from its range; independent draws of the ranges as they stand; how
///              likely a range is, is not known
/// Source       scenarios/reader/draw.hpp for the plant, its correlations and what is held
#pragma once

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "hil-harness/campaign/sampling.hpp"
#include "hil-harness/verify/case_source.hpp"

namespace duskline::harness {

inline constexpr std::uint64_t kRunsMax = 1'000'000;

/// What differs between the runs.
enum class Differs { parameters, structure, surroundings };
struct DiffersWord {
  Differs differs;
  std::string_view word, meaning;
  bool by_default;  ///< also where no --grade is given
};
inline constexpr std::array kDiffers{
    DiffersWord{Differs::parameters, "parameters", "every parameter with a range in the plant file", true},
    DiffersWord{Differs::structure, "structure", "the variants of the parts of the plant", false},
    DiffersWord{Differs::surroundings, "surroundings",
                "errors of the instruments, weather, and what the scenario lists under campaign.vary", true},
};

struct CampaignPlan {
  CaseSource source;
  scenarios::Case base;  ///< what `source` reads to
  std::vector<std::string> laws;
  std::vector<Differs> differs;
  Sampling sampling{};
  std::uint64_t runs = 100, seed = 1;
  std::vector<std::string> links;  ///< to the controllers of every run; empty: those in this program

  bool has(Differs what) const;
};

/// A number under `vary` that the draw of the plant sets too, and why it is refused.
struct DrawnTwice {
  std::string path, message;
};
std::vector<DrawnTwice> drawn_twice(const CampaignPlan& plan);

/// What is drawn, for tables and pages.
struct DrawnInput {
  std::string name;  ///< path of the parameter, with `.3` for an item of a list, or of --set; variants.PART
  std::string unit;  ///< kWord: a word is drawn, the variant of a part
};
inline constexpr std::string_view kWord = "word";

/// A draw: what the run sets, and what came out of it.
struct Draw {
  std::uint64_t run{}, plant_draw{}, seed{};  ///< the last two: 0 as the scenario says
  std::vector<std::string> settings;          ///< as for --set
  bool own_plant{};                           ///< the plant is drawn, and no `plant_draw` gives it
  std::vector<double> values;           ///< of the inputs that are numbers, in the units of the dictionary
  std::vector<std::string_view> words;  ///< of those that are words, which follow
};

class Draws {
 public:
  explicit Draws(const CampaignPlan& plan);

  /// Numbers first, then words.
  const std::vector<DrawnInput>& inputs() const { return inputs_; }
  /// What a sensitivity is asked for: groups of correlated parameters, parameters, numbers under `vary`, the noise.
  const std::vector<std::string>& factors() const { return factors_; }
  /// Runs of one block of the scheme for sensitivities.
  std::uint64_t block() const { return factors_.size() + 2; }

  /// Numbers that are drawn in a run of subset simulation, beside its seed.
  std::size_t dimensions() const { return dimensions_.size() + varied_; }
  /// The points of the next runs, in the space of standard normal numbers.
  void append(const std::vector<std::vector<double>>& normals);

  Draw draw(std::uint64_t run) const;
  /// The case of a run.
  scenarios::Case case_of(const Draw& draw, const std::string& law) const;

 private:
  /// The plant of a run, drawn from one whose varied numbers are set.
  plant::PlantParameters plant_of(std::uint64_t run, const scenarios::PlantFile& plant) const;
  double normal(std::uint64_t run, std::string_view name, std::int64_t item) const;
  double share(std::uint64_t run, std::size_t variation) const;
  /// Number of the independent draw from which a factor of a run comes.
  std::uint64_t number(std::uint64_t run, std::string_view factor) const;
  double point(std::uint64_t run, std::size_t dimension) const;

  const CampaignPlan& plan_;
  scenarios::PlantFile plant_;  ///< of the scenario; what `vary` sets is held
  std::vector<DrawnInput> inputs_;
  std::vector<std::string> factors_;
  std::map<std::pair<std::string, std::int64_t>, std::size_t, std::less<>> dimensions_;  ///< of the plant
  std::size_t varied_{};
  Points points_;
};

/// The command that runs one run of independent draws again; empty: no command of settings does.
std::string replay_command(const CampaignPlan& plan, const Draw& draw, const std::string& law);
/// The links of the campaign as options of a command.
std::string links_in_shell(const CampaignPlan& plan);

}  // namespace duskline::harness
