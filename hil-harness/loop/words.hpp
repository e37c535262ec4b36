/// The words of the controller's lists, as people read them: each list is expanded here once.
///
/// What it is   a row a word, by its value, or by its bit where a list has bits
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "controller/include/controller.h"

namespace duskline::harness {

struct ListWord {
  std::string_view word, meaning;
};

std::span<const ListWord> mode_words();
std::span<const ListWord> limiter_words();
std::span<const ListWord> plant_mode_words();
std::span<const ListWord> plant_limiter_words();
std::span<const ListWord> plant_condition_words();  ///< by bit
std::span<const ListWord> plant_diagnosis_words();  ///< by bit
std::span<const ListWord> service_words();
std::span<const ListWord> shed_words();  ///< by bit
std::span<const ListWord> law_words();
std::span<const ListWord> response_words();
std::span<const ListWord> condition_words();  ///< by bit
std::span<const ListWord> diagnosis_words();  ///< by bit
std::span<const ListWord> residual_words();   ///< by bit
std::span<const ListWord> severity_words();
std::span<const ListWord> priority_words();
std::span<const ListWord> alarm_words();        ///< their meaning is what to do
std::span<const ListWord> plant_alarm_words();  ///< likewise
std::span<const ListWord> alarm_group_words();
std::span<const ListWord> alarm_state_words();
std::span<const ListWord> alarm_action_words();

/// "unknown" for a value outside the list.
std::string_view word_of(std::span<const ListWord> list, std::uint32_t value);
/// The words of the bits that are set.
std::string words_of(std::span<const ListWord> list, std::uint32_t bits, std::string_view between = ", ");
/// The words alone, for choices and legends.
std::vector<std::string> only_words(std::span<const ListWord> list);

/// The corrections of the controller by what they correct, "zone temperature 1".
std::vector<std::string> correction_words();
/// What is corrected, and by how much.
std::string correction_words(std::uint32_t number, double value);

const char* mode_word(std::uint32_t mode);
const char* limiter_word(std::uint32_t limiter);
const char* law_word(std::uint32_t law);
const char* alarm_state_word(std::uint32_t state);
const char* alarm_action_word(std::uint32_t action);
const char* diagnosis_word(std::uint32_t bit);
/// "stack cold, bus low": the conditions of these bits.
std::string condition_words(std::uint32_t bits);

}  // namespace duskline::harness
