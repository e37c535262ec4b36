#include "hil-harness/loop/words.hpp"

#include <fmt/format.h>

#include <string_view>

namespace duskline::harness {
namespace {

template <std::size_t N>
const char* pick(const char* const (&words)[N], std::uint32_t value) {
  return value < N ? words[value] : "unknown";
}

}  // namespace

#define WORD(identifier, value, word, meaning) word,
const char* mode_word(std::uint32_t mode) {
  static constexpr const char* kWords[] = {CTL_MODE_LIST(WORD)};
  return pick(kWords, mode);
}
const char* limiter_word(std::uint32_t limiter) {
  static constexpr const char* kWords[] = {CTL_LIMITER_LIST(WORD)};
  return pick(kWords, limiter);
}
const char* law_word(std::uint32_t law) {
  static constexpr const char* kWords[] = {CTL_LAW_LIST(WORD)};
  return pick(kWords, law);
}
const char* alarm_state_word(std::uint32_t state) {
  static constexpr const char* kWords[] = {CTL_ALARM_STATE_LIST(WORD)};
  return pick(kWords, state);
}
const char* alarm_action_word(std::uint32_t action) {
  static constexpr const char* kWords[] = {CTL_ALARM_ACTION_LIST(WORD)};
  return pick(kWords, action);
}
#undef WORD

const char* diagnosis_word(std::uint32_t bit) {
#define WORD(identifier, number, word, response, meaning) word,
  static constexpr const char* kWords[] = {CTL_DIAGNOSIS_LIST(WORD)};
#undef WORD
  return pick(kWords, bit);
}

std::string condition_words(std::uint32_t bits) {
  std::string text;
#define WORD(identifier, bit, word, meaning) \
  if ((bits & (1u << (bit))) != 0) text += text.empty() ? word : std::string(", ") + word;
  CTL_CONDITION_LIST(WORD)
#undef WORD
  return text;
}

std::string correction_words(std::uint32_t number, double value) {
#define WORD(identifier, n, input, unit, bound, meaning) \
  if (number == (n))                                     \
    return fmt::format("{}: {:.3g}{}", meaning, value, std::string_view(unit) == "1" ? "" : " " unit);
  CTL_CORRECTION_LIST(WORD)
#undef WORD
  return "";
}

}  // namespace duskline::harness
