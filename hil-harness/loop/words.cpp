#include "hil-harness/loop/words.hpp"

#include <fmt/format.h>

#include <cctype>

#include "controller/include/plant_controller.h"

namespace duskline::harness {
namespace {

#define WORD(identifier, value, word, meaning) {word, meaning},
constexpr ListWord kModes[] = {CTL_MODE_LIST(WORD)};
constexpr ListWord kLimiters[] = {CTL_LIMITER_LIST(WORD)};
constexpr ListWord kPlantModes[] = {CTL_PLANT_MODE_LIST(WORD)};
constexpr ListWord kPlantLimiters[] = {CTL_PLANT_LIMITER_LIST(WORD)};
constexpr ListWord kPlantConditions[] = {CTL_PLANT_CONDITION_LIST(WORD)};
constexpr ListWord kPlantDiagnoses[] = {CTL_PLANT_DIAGNOSIS_LIST(WORD)};
constexpr ListWord kServices[] = {CTL_SERVICE_LIST(WORD)};
constexpr ListWord kShed[] = {CTL_SHED_LIST(WORD)};
constexpr ListWord kLaws[] = {CTL_LAW_LIST(WORD)};
constexpr ListWord kResponses[] = {CTL_RESPONSE_LIST(WORD)};
constexpr ListWord kConditions[] = {CTL_CONDITION_LIST(WORD)};
constexpr ListWord kSeverities[] = {CTL_SEVERITY_LIST(WORD)};
constexpr ListWord kPriorities[] = {CTL_PRIORITY_LIST(WORD)};
constexpr ListWord kAlarmStates[] = {CTL_ALARM_STATE_LIST(WORD)};
constexpr ListWord kAlarmActions[] = {CTL_ALARM_ACTION_LIST(WORD)};
constexpr ListWord kGroups[] = {CTL_ALARM_GROUP_LIST(WORD)};
#undef WORD
#define WORD(identifier, bit, word, response, meaning) {word, meaning},
constexpr ListWord kDiagnoses[] = {CTL_DIAGNOSIS_LIST(WORD)};
#undef WORD
#define WORD(identifier, k, k_step, most, word) {word, ""},
constexpr ListWord kResiduals[] = {CTL_RESIDUAL_LIST(WORD)};
#undef WORD
#define WORD(identifier, number, word, severity, minutes, priority, latched, on, off, source, argument, \
             limit, dead_band, suppressed, consequence, cause, action)                                  \
  {word, action},
constexpr ListWord kAlarms[] = {CTL_ALARM_LIST(WORD)};
constexpr ListWord kPlantAlarms[] = {CTL_PLANT_ALARM_LIST(WORD)};
#undef WORD

struct Correction {
  std::string_view identifier, unit, meaning;
};
#define CORRECTION(identifier, number, input, unit, bound, meaning) {#identifier, unit, meaning},
constexpr Correction kCorrections[] = {CTL_CORRECTION_LIST(CORRECTION)};
#undef CORRECTION

}  // namespace

std::span<const ListWord> mode_words() {
  return kModes;
}
std::span<const ListWord> limiter_words() {
  return kLimiters;
}
std::span<const ListWord> plant_mode_words() {
  return kPlantModes;
}
std::span<const ListWord> plant_limiter_words() {
  return kPlantLimiters;
}
std::span<const ListWord> plant_condition_words() {
  return kPlantConditions;
}
std::span<const ListWord> plant_diagnosis_words() {
  return kPlantDiagnoses;
}
std::span<const ListWord> service_words() {
  return kServices;
}
std::span<const ListWord> shed_words() {
  return kShed;
}
std::span<const ListWord> law_words() {
  return kLaws;
}
std::span<const ListWord> response_words() {
  return kResponses;
}
std::span<const ListWord> condition_words() {
  return kConditions;
}
std::span<const ListWord> diagnosis_words() {
  return kDiagnoses;
}
std::span<const ListWord> residual_words() {
  return kResiduals;
}
std::span<const ListWord> severity_words() {
  return kSeverities;
}
std::span<const ListWord> priority_words() {
  return kPriorities;
}
std::span<const ListWord> alarm_words() {
  return kAlarms;
}
std::span<const ListWord> plant_alarm_words() {
  return kPlantAlarms;
}
std::span<const ListWord> alarm_group_words() {
  return kGroups;
}

std::span<const ListWord> alarm_state_words() {
  return kAlarmStates;
}
std::span<const ListWord> alarm_action_words() {
  return kAlarmActions;
}

std::string_view word_of(std::span<const ListWord> list, std::uint32_t value) {
  return value < list.size() ? list[value].word : "unknown";
}

const char* mode_word(std::uint32_t mode) {
  return word_of(kModes, mode).data();
}
const char* limiter_word(std::uint32_t limiter) {
  return word_of(kLimiters, limiter).data();
}
const char* law_word(std::uint32_t law) {
  return word_of(kLaws, law).data();
}
const char* alarm_state_word(std::uint32_t state) {
  return word_of(kAlarmStates, state).data();
}
const char* alarm_action_word(std::uint32_t action) {
  return word_of(kAlarmActions, action).data();
}
const char* diagnosis_word(std::uint32_t bit) {
  return word_of(kDiagnoses, bit).data();
}
std::string condition_words(std::uint32_t bits) {
  return words_of(kConditions, bits);
}

std::string words_of(std::span<const ListWord> list, std::uint32_t bits, std::string_view between) {
  std::string text;
  for (std::size_t bit = 0; bit < list.size(); ++bit) {
    if ((bits >> bit & 1U) == 0) continue;
    if (!text.empty()) text += between;
    text += list[bit].word;
  }
  return text;
}

std::vector<std::string> only_words(std::span<const ListWord> list) {
  std::vector<std::string> words;
  for (const ListWord& one : list) words.emplace_back(one.word);
  return words;
}

std::vector<std::string> correction_words() {
  constexpr std::string_view kPrefix = "CTL_";
  std::vector<std::string> words;
  for (const Correction& c : kCorrections) {
    std::string text;
    for (const char letter : c.identifier.substr(kPrefix.size()))
      text += letter == '_' ? ' ' : static_cast<char>(std::tolower(static_cast<unsigned char>(letter)));
    words.push_back(std::move(text));
  }
  return words;
}

std::string correction_words(std::uint32_t number, double value) {
  if (number >= std::size(kCorrections)) return "";
  const Correction& c = kCorrections[number];
  return fmt::format("{}: {:.3g}{}{}", c.meaning, value, c.unit == "1" ? "" : " ",
                     c.unit == "1" ? "" : c.unit);
}

}  // namespace duskline::harness
