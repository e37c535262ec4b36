/// Words of the controller's lists, as log and summary say them. One place; a number outside a list is "unknown".
#pragma once

#include <cstdint>
#include <string>

#include "controller/include/controller.h"

namespace duskline::harness {

const char* mode_word(std::uint32_t mode);
const char* limiter_word(std::uint32_t limiter);
const char* law_word(std::uint32_t law);
const char* alarm_state_word(std::uint32_t state);
const char* alarm_action_word(std::uint32_t action);
const char* diagnosis_word(std::uint32_t bit);
/// "stack cold, bus low": the conditions of these bits.
std::string condition_words(std::uint32_t bits);
/// What is corrected, and by how much.
std::string correction_words(std::uint32_t number, double value);

}  // namespace duskline::harness
