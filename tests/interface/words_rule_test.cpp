// One word for one thing: words that were retired do not come back. Identifiers are looked for in sources, phrases in
// everything a person reads (documents, messages, titles, comments).
#include <catch2/catch.hpp>
#include <cctype>

#include "tests/support/source_tree.hpp"

using namespace duskline::tests;

namespace {

struct Retired {
  std::string_view word, instead;
};

/// Looked for as whole identifiers, case-sensitive, in sources only.
constexpr Retired kIdentifiers[] = {
    {"Wish", "LawOutput"},
    {"pi_wish", "pi_output"},
    {"least_of", "min_of"},
    {"most_of", "max_of"},
    {"CTL_STAND_BY", "CTL_RESPOND_STANDBY"},
    {"CTL_MAKE_SAFE", "CTL_RESPOND_TRIP"},
    {"CTL_REASON_LIST", "CTL_CONDITION_LIST"},
    {"observed_reasons", "observed_conditions"},
    {"Beliefs", "Estimates"},
    {"cautious_belief", "conservative_estimate"},
    {"surprise", "innovation"},
    {"dearest", "binding_limit"},
    {"held_by", "active_limiter"},
    {"barred", "locked_out"},
    {"retreats", "production_dropouts"},
    {"safe_rest", "trip_dwell"},
    {"take_up", "restore"},
    {"begin_again", "warm_restart"},
    {"flow_time", "flow_integral_time"},
    {"compressor_filling", "volumetric_efficiency"},
    {"compressor_tone", "bearing_vibration"},
    {"filter_difference", "filter_differential_pressure"},
    {"SensorClass", "SensorAccuracy"},
    {"spoil", "inject"},
    {"Happening", "LogEvent"},
    {"hear_operator", "read_commands"},
    {"work_out_parameters", "recompute_parameters"},
    {"awake", "controller_powered"},
    {"eyes", "probe"},
    {"carry_out", "dispatch"},
    {"complain", "print_error"},
    {"kWell", "kSuccess"},
    {"Judged", "RequirementResult"},
    {"Ruling", "Outcome"},
    {"trouble", "error"},
    {"Ribbon", "StatusStrip"},
    {"ALARM_PLACES", "ALARM_CAPACITY"},
    {"uncalibrate", "clear_corrections"},
    {"CellBelief", "CellEstimate"},
    {"Pushed", "Disturbed"},
    {"Told", "Reported"},
    {"told", "reported"},
    {"broken_from", "violated_from"},
    {"broken_to", "violated_to"},
};

/// Endings of identifiers, in sources only.
constexpr Retired kEndings[] = {
    {"_most", "_max"},          {"_least", "_min"},          {"_at_rest", "initial_*"},
    {"_doubt", "_prior_sigma"}, {"_spread", "_prior_sigma"},
};

/// Identifiers with such an ending that mean something else.
constexpr std::string_view kEndingsKept[] = {"at_most", "at_least"};

/// Looked for as phrases, in any case, in every text.
constexpr Retired kPhrases[] = {
    {"doubted", "suspect"},
    {"make safe", "trip"},
    {"breathes", "draws in"},
    {"fixed beforehand", "scheduled"},
    {"all the way", "throughout"},
    {"stated aim", "objective"},
    {"drawn plants", "sampled plants"},
    {"bring about a fault", "inject a fault"},
    {"takes the bus away", "cuts bus power"},
    {"to the bit", "exactly"},
    {"in hundredths", "in 1 % steps"},
    {"tired cell", "degraded cell"},
    {"hold for ever", "permanent"},
    {"order of strength", "precedence"},
    {"as if the trace were that stretch alone", "evaluated on that interval only"},
    {"never came about", "never occurred"},
    {"what moved", "what changed"},
    {"flickers", "chatters"},
    {"can be had as", "can be exported as"},
    {"is its own affair", "is up to the plug-in"},
    {"goes away early", "a closed pipe"},
    {"asks for nothing", "needs no action"},
    {"four rooms", "module structure"},
    {"peep", "access"},
    {"two walls", "two limits"},
    {"there and then", "locally and instantaneously"},
    {"sows", "injects"},
    {"chosen for its luck", "selection bias"},
    {"calls it off", "aborts it"},
    {"called off", "cancelled"},
    {"far from minding", "insensitive to"},
    {"ping-pong", "mode cycling"},
    {"told but not answered", "reported without response"},
    {"happening", "event"},
    {"told, not answered", "reported, not answered"},
    {"told and answered", "reported and answered"},
    {"spoilt", "corrupted"},
    {"wander of", "random change of"},
    {"cell beliefs", "cell estimates"},
    {"stands to be checked", "still to be checked"},
    {"as fast as it goes", "as fast as possible"},
    {"nothing but problems", "errors only"},
    {"with all rights of", "with the privileges of"},
    {"the accepted ones", "accepted results"},
    {"word too many", "unexpected argument"},
    {"begins afresh", "starts over"},
    {"indented rightly", "correctly indented"},
    {"current held by", "active current limit"},
    {"must not freeze", "low-temperature components"},
    {"controller believes", "controller estimates"},
    {"the liar", "the faulty reading"},
    {"takes the sun", "blocks sunlight"},
    {"every breath", "every fluctuation"},
    {"stay at home", "not start"},
    {"nobody may be blamed", "no cell is flagged"},
    {"walk by itself", "sequence automatically"},
    {"thinks better of it", "cancels"},
    {"baseline and accept", "accepted results"},
    {"compressor_tone", "bearing_vibration"},
    {"filter_difference", "filter_differential_pressure"},
};

/// This file, and files whose words are not ours.
bool skipped(std::string_view path) {
  return path.ends_with("words_rule_test.cpp") || path.ends_with("package-lock.json") || path == "LICENSE";
}

bool is_text(std::string_view path) {
  const std::string end = extension(path);
  return is_cpp(path) || end == ".md" || end == ".yaml" || end == ".js" || end == ".py" || end == ".txt" ||
         end == ".ts" || end == ".tsx" || end == ".mjs" || end == ".html" || end == ".css" ||
         end == ".json" || end.empty();
}

bool in_word(char c) {
  return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
}

/// Every identifier-like word of a text that stands alone, handed to `visit`.
template <class Visit>
void for_each_word(std::string_view text, const Visit& visit) {
  for (std::size_t i = 0; i < text.size();) {
    if (!in_word(text[i])) {
      ++i;
      continue;
    }
    std::size_t end = i;
    while (end < text.size() && in_word(text[end])) ++end;
    visit(text.substr(i, end - i));
    i = end;
  }
}

/// The text in small letters with every run of white space (and comment marks at its start) as one blank.
std::string flattened(std::string_view text) {
  std::string flat;
  flat.reserve(text.size());
  for (const std::string& line : lines_of(text)) {
    std::size_t at = line.find_first_not_of(" \t");
    if (at == std::string::npos) continue;
    at = std::min(line.find_first_not_of("/*# \t", at), line.size());
    for (const char c : line.substr(at))
      flat += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    flat += ' ';
  }
  return flat;
}

std::string advice(std::string_view word, std::string_view instead) {
  return "'" + std::string(word) + "' is retired; say " + std::string(instead);
}

std::vector<std::string> words_rule(const SourceFile& file) {
  std::vector<std::string> found;
  if (skipped(file.path) || !is_text(file.path)) return found;
  const bool source = is_cpp(file.path) || extension(file.path) == ".js";
  if (source)
    for_each_word(file.text, [&](std::string_view word) {
      for (const Retired& r : kIdentifiers)
        if (word == r.word) found.push_back(advice(r.word, r.instead));
      for (const Retired& r : kEndings)
        if (word.size() > r.word.size() && word.ends_with(r.word) &&
            std::ranges::none_of(kEndingsKept, [&](std::string_view kept) { return word.ends_with(kept); }))
          found.push_back(advice(word, r.instead));
    });
  const std::string flat = flattened(file.text);
  for (const Retired& r : kPhrases)
    for (std::size_t at = flat.find(r.word); at != flat.npos; at = flat.find(r.word, at + 1)) {
      const std::size_t end = at + r.word.size();
      const bool whole = (at == 0 || !in_word(flat[at - 1])) && (end == flat.size() || !in_word(flat[end]));
      if (whole) found.push_back(advice(r.word, r.instead));
    }
  return found;
}

}  // namespace

TEST_CASE("No retired word comes back") {
  CHECK(findings(source_files(), words_rule) == "");
}

TEST_CASE("The rule of words sees retired words and lets others pass") {
  const auto count = [](const char* path, const char* text) { return words_rule({path, text}).size(); };
  CHECK(count("controller/a.hpp", "float x = least_of(a, b);\n") == 1);
  CHECK(count("controller/a.hpp", "float speed_most;  // at_most is another word\n") == 1);
  CHECK(count("docs/a.md", "A fault that flickers\n") == 1);
  CHECK(count("docs/a.md", "evaluated as if the trace were\nthat stretch alone\n") == 1);
  CHECK(count("hil-harness/a.cpp", "// it makes the reading\n// doubted\n") == 1);
  CHECK(count("docs/a.md", "suspect readings, at most two\n") == 0);
  CHECK(count("docs/a.md", "feathered\n") == 0);
}
