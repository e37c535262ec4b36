#include "hil-harness/cli/alarm_topic.hpp"

#include <fmt/format.h>

#include <cmath>

#include "controller/include/controller.h"
#include "hil-harness/loop/words.hpp"

namespace duskline::harness {
namespace {

struct Quantity {
  const char *word, *unit;
};
const Quantity kQuantities[] = {
#define QUANTITY(identifier, number, word, unit) {word, unit},
    CTL_ALARM_QUANTITY_LIST(QUANTITY)
#undef QUANTITY
};

std::string conditions(std::uint32_t bits) {
  if (bits == CTL_UNEXPECTED) return "any condition but cold, hot, wait and not reset";
  return words_of(condition_words(), bits, " or ");
}

std::string scaled(float value, float factor, std::string_view unit) {
  return fmt::format("{:.4g} {}", static_cast<double>(value) * static_cast<double>(factor), unit);
}

/// A limit, or a difference, in the unit in which people read it.
std::string in_words(float value, std::string_view unit, bool absolute) {
  constexpr float kFreezing = 273.15f;  // K; what is below is a difference
  if (unit == "K" && absolute && value > kFreezing) return scaled(value - kFreezing, 1.0f, "degC");
  if (unit == "Pa") return scaled(value, 1e-3f, "kPa");
  if (unit == "1") return scaled(value, 100.0f, "%");
  if (unit == "V" && std::abs(value) < 0.5f) return scaled(value, 1e3f, "mV");
  return scaled(value, 1.0f, unit);
}

std::string condition(std::uint32_t source, std::uint32_t argument, float limit, float dead_band) {
  switch (source) {
    case CTL_FROM_TRIP:
      return "moved to safe by " + conditions(argument);
    case CTL_FROM_CONDITION:
      return conditions(argument) + " is active";
    case CTL_FROM_REFUSAL:
      return "the mode asked for is not permitted: " + conditions(argument);
    case CTL_FROM_DIAGNOSIS:
      return "diagnosed: " + words_of(diagnosis_words(), argument, " or ");
    case CTL_FROM_DOUBT:
      return fmt::format("suspect or lost: one of the {}", word_of(alarm_group_words(), argument));
    default:
      const Quantity& q = kQuantities[argument];
      return fmt::format("{} {} {}, dead-band {}", q.word, source == CTL_FROM_ABOVE ? "above" : "below",
                         in_words(limit, q.unit, true), in_words(dead_band, q.unit, false));
  }
}

}  // namespace

Table alarm_table(const scenarios::PlantFile&) {
  Table t{{"alarm", "number", "priority", "severity", "time to respond", "condition", "delay on, off",
           "latched", "suppressed in", "consequence", "cause", "action"},
          {}};
#define ROW(identifier, number, word, severity, minutes, priority, latched, on, off, source, argument, \
            limit, dead_band, suppressed, consequence, cause, action)                                  \
  t.rows.push_back(                                                                                    \
      {{word, std::to_string((number) + 1), std::string(word_of(priority_words(), priority)),          \
        std::string(word_of(severity_words(), severity)),                                              \
        fmt::format("{:.0f} min", static_cast<double>(minutes)),                                       \
        condition(source, argument, limit, dead_band),                                                 \
        fmt::format("{:.0f} s, {:.0f} s", static_cast<double>(on), static_cast<double>(off)),          \
        (latched) != 0 ? "yes" : "no", words_of(mode_words(), suppressed), consequence, cause, action}});
  CTL_ALARM_LIST(ROW)
#undef ROW
  return t;
}

}  // namespace duskline::harness
