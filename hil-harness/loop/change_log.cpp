#include "hil-harness/loop/change_log.hpp"

#include <fmt/format.h>

#include <bit>

#include "hil-harness/loop/words.hpp"

namespace duskline::harness {
namespace {

template <class Each>
void each_bit(std::uint32_t bits, Each&& each) {
  for (; bits != 0; bits &= bits - 1) each(static_cast<std::uint32_t>(std::countr_zero(bits)));
}

}  // namespace

void ChangeLog::follow(const Snapshot& s, double period) {
  const ctl_outputs& out = s.control;
  if (out.mode != mode_) {
    mode_ = out.mode;
    if (mode_ == CTL_SAFE)
      log_.log(s.time, LogKind::interlock, fmt::format("safe: {}", condition_words(out.tripped)));
    else
      log_.log(s.time, LogKind::mode, mode_word(mode_));
  }
  each_bit(out.corrected & ~corrected_, [&](std::uint32_t n) {
    if (n < CTL_CORRECTIONS) log_.log(s.time, LogKind::calibration, correction_words(n, out.correction[n]));
  });
  corrected_ = out.corrected;
  each_bit(out.diagnosed & ~diagnosed_, [&](std::uint32_t n) {
    const bool model = (1U << n) == CTL_MODEL_SUSPECT && out.unexplained != 0;
    log_.log(s.time, LogKind::diagnosis,
             model
                 ? fmt::format("{}: {}", diagnosis_word(n), words_of(residual_words(), out.unexplained, ", "))
                 : diagnosis_word(n),
             diagnosis_word(n));
  });
  each_bit(diagnosed_ & ~out.diagnosed, [&](std::uint32_t n) {
    log_.log(s.time, LogKind::diagnosis, fmt::format("{}, is over", diagnosis_word(n)), diagnosis_word(n),
             false);
  });
  diagnosed_ = out.diagnosed;
  const std::span states(out.alarm_state, CTL_ALARMS);
  for (const AlarmChange& change : alarms_.tick(states, out.alarms_ignored, s.time, period)) {
    const AlarmInfo& a = alarm_info(change.alarm);
    if (change.begins)
      log_.log(s.time, LogKind::alarm, fmt::format("{} ({}): {}", a.word, a.priority, a.action), a.word);
    else
      log_.log(s.time, LogKind::alarm_return, fmt::format("{} returned", a.word), a.word, false);
  }
}

}  // namespace duskline::harness
