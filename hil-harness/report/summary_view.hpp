/// The parts of a summary.json that reports and comparisons show. What is absent is empty.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace duskline::harness {

struct FigureEntry {
  std::string text, words;  ///< words: the value when it is no number
  std::optional<double> value;
  std::string unit, note, verdict;
};

enum class VerdictClass { satisfied, violated, undecided, not_exercised };

struct RequirementEntry {
  std::string name, must, verdict;
  VerdictClass verdict_class = VerdictClass::undecided;
  std::optional<double> margin;
  std::string unit;
  std::optional<double> time;             ///< s, where the margin is least
  double violated_from{}, violated_to{};  ///< s; meaningful for violated ones
};

struct EventEntry {
  double time{};  ///< s since the start of the run
  std::string kind, text;
  std::string subject = {};  ///< what it is about; empty: the text says it
  std::size_t count = 1;     ///< how often, folded into this one
  bool begins = true;        ///< false: what it is about ended here
};

/// What an event is about: its subject, or its text without the word that it is over.
std::string subject_of(const EventEntry& event);

struct SummaryView {
  std::string title, plant, law, seed, version, end, who;
  std::optional<double> end_time;  ///< s
  std::vector<FigureEntry> figures;
  std::vector<RequirementEntry> requirements;
  std::vector<EventEntry> events;  ///< in the order of time
  std::size_t events_left_out{};
};

/// Nothing, with the problem, when the text is no JSON object.
std::optional<SummaryView> read_summary(std::string_view json, std::string& problem);

std::string_view word(VerdictClass c);

/// The class of a verdict's word; an unknown word is undecided.
VerdictClass verdict_class(std::string_view word);

}  // namespace duskline::harness
