/// Drives the controller with whatever bits there are and checks every answer.
///
/// What it is   episodes of ticks: parameters, a start (fresh, in a mode, restarted, or with corrupted memory),
///              then a stand-in plant whose signals are corrupted one by one, for a while, or altogether
/// Equation     every episode is keyed by (seed, number), so that it can be repeated
/// Symbols      SI, as in controller.h
/// Validity     any seed
/// Left out     guidance by coverage
#pragma once

#include <cmath>
#include <cstring>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "controller/memory.hpp"
#include "tests/support/random_inputs.hpp"

namespace duskline::test {

class ControllerFuzzer {
 public:
  /// `step` is what is looked at; a test puts defects there.
  explicit ControllerFuzzer(std::uint64_t seed, decltype(&ctl_step) step = ctl_step)
      : seed_(seed), step_(step) {
    for (std::uint32_t law = 0; law < CTL_LAWS; ++law) {
      ctl_params p = default_params();
      p.law = law;
      p.table_rows = 1;
      p.table_speed[0] = 360.0f;
      p.table_current[0] = 4.0f;
      for (std::uint32_t mode = 0; mode < CTL_MODES; ++mode) starts_.push_back(rig_in(mode, p));
    }
  }

  /// Runs whole episodes until at least `ticks` are done; the first finding, or nothing.
  std::string run(std::uint64_t ticks) {
    while (ticks_ < ticks)
      if (const std::string what = episode(next_episode_++); !what.empty()) return what;
    return {};
  }

  /// One episode by its number.
  std::string episode(std::uint64_t number) {
    number_ = number;
    Random random(Random(seed_ ^ (number * 0xd1342543de82ef95u)).bits());
    begin(random);
    const std::uint32_t length = 32u << random.below(8);
    for (std::uint32_t n = 0; n < length; ++n) {
      tick_ = n;
      const char* what = step(random);
      ++ticks_;
      if (what == nullptr) continue;
      return "seed " + std::to_string(seed_) + ", episode " + std::to_string(number) + ", tick " +
             std::to_string(n) + ": " + what;
    }
    return {};
  }

  std::uint64_t ticks() const { return ticks_; }
  std::uint64_t number() const { return number_; }
  std::uint32_t tick() const { return tick_; }
  std::uint32_t modes_seen() const { return modes_seen_; }
  std::uint32_t laws_seen() const { return laws_seen_; }
  std::uint64_t ticks_in(std::uint32_t mode) const { return ticks_in_[mode]; }
  std::uint64_t corrupted_states() const { return corrupted_states_; }
  std::uint64_t refused_states() const { return refused_states_; }

 private:
  /// A word that is wrong for a while.
  struct Fault {
    std::uint32_t kind, word, other, from, until;
    float value;
  };

  void begin(Random& random) {
    rig_ = starts_[random.below(static_cast<std::uint32_t>(starts_.size()))];
    rig_.plant.bus_voltage = 28.0;
    corrupted_ = false;
    last_mode_ = -1;
    past_ = rig_.in;
    request_ = rig_.in.requested_mode;
    noise_ = random.below(3) == 0 ? 0.0f : std::pow(10.0f, -4.0f + 3.0f * random.share());
    const std::uint32_t rates[] = {0xffffffffu, 2000u, 100u, 10u, 2u};
    corruption_rate_ = rates[random.below(5)];
    only_noise_ = random.one_in(12);
    if (random.one_in(3)) rig_.params = random_params(random);
    faults_.clear();
    for (std::uint32_t n = random.below(4); n > 0; --n) {
      const std::uint32_t from = random.below(256);
      faults_.push_back({random.below(7), random.below(kInputFloats), random.below(kInputFloats), from,
                         from + (8u << random.below(9)), special(random)});
    }
    const std::uint32_t start = random.below(8);
    if (start == 0 && ctl_init(&rig_.state, &rig_.params) != CTL_OK) throw std::runtime_error("init refused");
    if (start == 1) finding_ = restart(random);
    if (start == 2) corrupt_memory(random);
  }

  /// A start from a retained copy; a damaged one must be refused and leave a fresh state.
  const char* restart(Random& random) {
    ctl_retained kept;
    ctl_retain(&rig_.state, &kept);
    const bool damaged = random.one_in(2);
    if (damaged)
      reinterpret_cast<unsigned char*>(&kept)[random.below(sizeof kept)] ^=
          static_cast<unsigned char>(1u << random.below(8));
    const ctl_status status = ctl_restart(&rig_.state, &rig_.params, &kept);
    if (!damaged) return status == CTL_OK ? nullptr : "a good copy was refused";
    if (status != CTL_NOT_RETAINED) return "a damaged copy was accepted";
    ctl_state fresh;
    if (ctl_init(&fresh, &rig_.params) != CTL_OK) return "init refused valid parameters";
    return std::memcmp(&fresh, &rig_.state, sizeof fresh) == 0 ? nullptr : "a refused copy left a trace";
  }

  void corrupt_memory(Random& random) {
    corrupted_ = true;
    ++corrupted_states_;
    constexpr std::uint32_t kWords = sizeof(controller::Memory) / 4;
    const bool all = random.one_in(8);
    for (std::uint32_t n = all ? kWords : 1 + random.below(16); n > 0; --n)
      rig_.state.words[all ? n - 1 : random.below(kWords)] = random.one_in(2)   ? random.word()
                                                             : random.one_in(2) ? random.below(64)
                                                                                : bits_of(special(random));
  }

  static std::uint32_t bits_of(float x) {
    std::uint32_t raw;
    std::memcpy(&raw, &x, sizeof raw);
    return raw;
  }

  static float special(Random& random) {
    constexpr float kInf = std::numeric_limits<float>::infinity();
    const float list[] = {NAN,   kInf, -kInf, 3.4e38f, -3.4e38f, 1e-42f, -1e-42f,       1.2e-38f,
                          -0.0f, 0.0f, 1.0f,  -1.0f,   1e9f,     -1e9f,  4294967296.0f, 1e-9f};
    return random.one_in(3) ? random.any_float() : list[random.below(16)];
  }

  float in_span(Random& random, std::size_t word) const {
    const Span span = input_spans()[word];
    switch (random.below(4)) {
      case 0:
        return std::nextafter(span.upper, INFINITY);
      case 1:
        return std::nextafter(span.lower, -INFINITY);
      default:
        return random.between(span.lower, span.upper);
    }
  }

  void apply(const Fault& f, ctl_inputs& in) {
    float& x = input_word(in, f.word);
    switch (f.kind) {
      case 0:
        x = f.value;
        break;
      case 1:
        x = input_word(past_, f.word);
        break;  // frozen
      case 2:
        std::swap(x, input_word(in, f.other));
        break;  // swapped
      case 3:
        x *= 1.0f + 0.01f * static_cast<float>(tick_ - f.from);
        break;
      case 4:
        x += 0.001f * static_cast<float>(tick_ - f.from) * input_spans()[f.word].upper;
        break;
      case 5:
        in = past_;
        break;  // everything stale
      default:
        x = NAN;
    }
  }

  /// Something wrong for this tick alone.
  void inject(Random& random, ctl_inputs& in) {
    const std::uint32_t k = random.below(kInputFloats);
    float& x = input_word(in, k);
    switch (random.below(12)) {
      case 0:
        x = random.any_float();
        break;
      case 1:
        x = special(random);
        break;
      case 2:
        std::swap(x, input_word(in, random.below(kInputFloats)));
        break;
      case 3:
        x *= std::ldexp(1.0f, static_cast<int>(random.below(17)) - 8);
        break;
      case 4:
        x = in_span(random, k);
        break;
      case 5:
        x = -x;
        break;
      case 6:
        in.tick = random.word();
        break;
      case 7:
        in.requested_mode = random.one_in(2) ? random.word() : random.below(CTL_MODES + 2);
        break;
      case 8:
        in.clear_corrections = random.word() & random.word();
        in.alarm_action = random.below(CTL_ALARM_ACTIONS + 2);
        in.alarm_number = random.below(CTL_ALARMS + 2);
        break;
      case 9:
        in = past_;
        break;
      case 10:
        for (std::size_t n = 0; n < kInputFloats; ++n) input_word(in, n) = in_span(random, n);
        break;
      default:
        for (std::size_t n = 0; n < sizeof in / 4; ++n)
          reinterpret_cast<std::uint32_t*>(&in)[n] = random.word();
    }
  }

  void disturb(Random& random) {
    StandIn& plant = rig_.plant;
    if (random.one_in(64))
      request_ = random.one_in(3) ? random.below(CTL_MODES) : std::uint32_t{CTL_PRODUCTION};
    if (random.one_in(200)) rig_.demand = random.between(0.0f, 6e-6f);
    if (random.one_in(200)) plant.ambient_pressure = random.between(300.0f, 1200.0f);
    if (random.one_in(1000)) plant.bus_voltage = random.one_in(2) ? 28.0 : random.between(0.0f, 40.0f);
    if (random.one_in(2000)) plant.compressor_stalled = !plant.compressor_stalled;
    if (random.one_in(2000)) plant.stack = random.between(200.0f, 1300.0f);
    if (random.one_in(2000)) plant.resistance = random.between(1e-6f, 1e-4f);
    if (random.one_in(4000)) rig_.params = random_params(random);
    if (random.one_in(4000)) rig_.tick = random.word();
    plant.moles = std::clamp(plant.moles, 1e-6, 1.0);  // it is no model of a plant under random commands
    plant.inlet_co = std::clamp(plant.inlet_co, 0.0, 0.9);
  }

  ctl_inputs inputs(Random& random) {
    ctl_inputs in{};
    if (only_noise_) {
      for (std::size_t n = 0; n < sizeof in / 4; ++n)
        reinterpret_cast<std::uint32_t*>(&in)[n] = random.word();
      if (!random.one_in(3)) in.requested_mode = random.below(CTL_MODES);
      return in;
    }
    in = rig_.plant.sense(rig_.tick++, request_, rig_.demand);
    in.local_time = static_cast<float>(rig_.tick % 88775u) / 88775.0f;
    in.command_age = static_cast<float>(rig_.tick % 997u);
    if (noise_ > 0.0f)
      for (std::size_t k = 0; k < kInputFloats; ++k)
        input_word(in, k) *= 1.0f + noise_ * (random.share() - 0.5f);
    for (const Fault& f : faults_)
      if (tick_ >= f.from && tick_ < f.until) apply(f, in);
    if (corruption_rate_ != 0xffffffffu && random.one_in(corruption_rate_)) inject(random, in);
    return in;
  }

  const char* step(Random& random) {
    if (finding_ != nullptr) return std::exchange(finding_, nullptr);
    disturb(random);
    const ctl_inputs in = inputs(random);
    if (random.one_in(64)) past_ = in;
    if (random.one_in(512)) {
      if (const char* what = refused_call(random, in)) return what;
    }
    if (random.one_in(1024)) {
      last_mode_ = -1;
      if (const char* what = restart(random)) return corrupted_ ? nullptr : what;
    }
    const ctl_state before = rig_.state;
    std::memset(&rig_.out, static_cast<int>(random.below(256)), sizeof rig_.out);
    const ctl_status status = step_(&rig_.state, &rig_.params, &in, &rig_.out);
    if (status == CTL_BAD_VERSION && corrupted_) {  // corrupted memory may be refused, with safe outputs
      ++refused_states_;
      const char* what = safe_outputs(rig_.out);
      if (ctl_init(&rig_.state, &rig_.params) != CTL_OK) return "init refused valid parameters";
      corrupted_ = false;
      last_mode_ = -1;
      return what;
    }
    if (status != CTL_OK) return "a valid call was refused";
    if (random.one_in(128)) {
      ctl_state again = before;
      ctl_outputs out;
      std::memset(&out, 0x5a, sizeof out);
      if (step_(&again, &rig_.params, &in, &out) != CTL_OK) return "refused the second time";
      if (std::memcmp(&again, &rig_.state, sizeof again) != 0 ||
          std::memcmp(&out, &rig_.out, sizeof out) != 0)
        return "the same call gave other bytes";
    }
    if (const char* what = check()) return what;
    rig_.plant.move(rig_.out);
    return nullptr;
  }

  const char* refused_call(Random& random, const ctl_inputs& in) {
    ctl_params bad = rig_.params;
    corrupt_params(random, bad);
    const ctl_state before = rig_.state;
    ctl_outputs out;
    std::memset(&out, 0xff, sizeof out);
    if (step_(&rig_.state, &bad, &in, &out) != CTL_BAD_PARAMETER) return "a bad parameter was accepted";
    if (std::memcmp(&before, &rig_.state, sizeof before) != 0) return "a refused call changed the state";
    if (const char* what = safe_outputs(out)) return what;
    ctl_state fresh;
    return ctl_init(&fresh, &bad) == CTL_BAD_PARAMETER ? nullptr : "init accepted a bad parameter";
  }

  static const char* safe_outputs(const ctl_outputs& out) {
    ctl_outputs safe{};
    safe.mode = CTL_SAFE;
    return std::memcmp(&safe, &out, sizeof out) == 0 ? nullptr : "a refused call left unsafe outputs";
  }

  const char* check() {
    const ctl_outputs& out = rig_.out;
    const ctl_params& p = rig_.params;
    const char* wrong = nullptr;
    const auto within = [&wrong](float x, float lower, float upper, const char* name) {
      if (!(std::isfinite(x) && x >= lower && x <= upper)) wrong = name;
    };
#define WITHIN_SCALAR(name, unit, lower, upper, ...) \
  within(out.name, lower, upper, #name " outside the list");
#define WITHIN_ARRAY(name, count, unit, lower, upper, ...) \
  for (const float x : out.name) within(x, lower, upper, #name " outside the list");
    CTL_OUTPUT_LIST(WITHIN_SCALAR, WITHIN_ARRAY)
#undef WITHIN_SCALAR
#undef WITHIN_ARRAY
    if (wrong != nullptr) return wrong;
    if (out.stack_current > p.current_max) return "stack_current above current_max";
    if (out.compressor_speed > p.speed_max) return "compressor_speed above speed_max";
    if (out.preheater_power > p.preheater_power_max) return "preheater_power above its most";
    float heat = out.preheater_power;
    for (const float power : out.end_power) {
      if (power > p.end_power_max) return "end_power above its most";
      heat += power;
    }
    if (heat > p.heater_total_max * (1.0f + 1e-5f)) return "heaters above heater_total_max";
    if (out.mode >= CTL_MODES) return "mode outside the list";
    if (out.limiter >= CTL_LIMITERS) return "limiter outside the list";
    if (out.law >= CTL_LAWS) return "law outside the list";
    if (out.response >= CTL_RESPONSES) return "response outside the list";
    for (const std::uint8_t state : out.alarm_state)
      if (state >= CTL_ALARM_STATES) return "alarm state outside the list";
    if (out.worst_cell >= CTL_CELLS) return "worst_cell outside the stack";
    if (out.corrected >> CTL_CORRECTIONS != 0) return "a correction outside the list";
    const std::uint64_t suspect = out.suspect[0] | std::uint64_t{out.suspect[1]} << 32;
    if (suspect >> controller::kInputs != 0) return "a suspect measurement outside the list";

    // the table of modes, and what no table may ever allow
    const controller::ModeRow& row = controller::kModes[out.mode];
    if (!row.heaters && heat > 0.0f) return "heat in a mode without";
    if (!row.flow && out.compressor_speed > 0.0f) return "flow in a mode without";
    if (!row.current && out.stack_current > 0.0f) return "current in a mode without";
    if (out.mode == CTL_OFF && (heat > 0.0f || out.compressor_speed > 0.0f || out.stack_current > 0.0f))
      return "energised in off";
    if (out.mode ==
        CTL_SAFE) {  // none at the trip; later no more than protects the nickel, once nothing stands
      const float protective = std::max(p.protective_current, p.priming_current);
      if (last_mode_ != CTL_SAFE && last_mode_ >= 0 && out.stack_current > 0.0f) return "current at the trip";
      if (out.stack_current > std::max(protective, last_current_))
        return "more than protective current in safe";
    }
    last_current_ = out.stack_current;
    if (last_mode_ >= 0 && static_cast<std::uint32_t>(last_mode_) != out.mode && out.mode != CTL_SAFE &&
        controller::refused_by(static_cast<std::uint32_t>(last_mode_), out.mode) == ~0u)
      return "a way between modes that the table does not know";
    last_mode_ = static_cast<int>(out.mode);
    modes_seen_ |= 1u << out.mode;
    laws_seen_ |= 1u << out.law;
    ++ticks_in_[out.mode];
    return corrupted_ ? nullptr : check_estimates();
  }

  const char* check_estimates() const {
    const ctl_outputs& out = rig_.out;
    const char* wrong = nullptr;
#define FINITE_SCALAR(name, unit, meaning) \
  if (!std::isfinite(out.name)) wrong = #name " is not finite";
#define FINITE_ARRAY(name, count, unit, meaning) \
  for (const float x : out.name)                 \
    if (!std::isfinite(x)) wrong = #name " is not finite";
    CTL_ESTIMATE_LIST(FINITE_SCALAR, FINITE_ARRAY)
#undef FINITE_SCALAR
#undef FINITE_ARRAY
    for (const float x : out.correction)
      if (!std::isfinite(x)) wrong = "a correction is not finite";
    return wrong;
  }

  std::uint64_t seed_;
  decltype(&ctl_step) step_;
  std::uint64_t next_episode_{}, number_{}, ticks_{}, corrupted_states_{}, refused_states_{};
  std::uint64_t ticks_in_[CTL_MODES]{};
  std::uint32_t modes_seen_{}, laws_seen_{}, tick_{}, request_{}, corruption_rate_{};
  std::vector<Rig> starts_;
  Rig rig_{300.0};
  std::vector<Fault> faults_;
  ctl_inputs past_{};
  float noise_{}, last_current_{};
  bool only_noise_{}, corrupted_{};
  int last_mode_{-1};
  const char* finding_{};
};

}  // namespace duskline::test
