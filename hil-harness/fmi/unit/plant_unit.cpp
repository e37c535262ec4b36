#include "hil-harness/fmi/unit/plant_unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <condition_variable>
#include <fstream>
#include <iterator>
#include <mutex>
#include <thread>

#include "hil-harness/links/answer.hpp"
#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {
namespace {

/// Each side waits for the other: the loop for commands, the master for readings.
class HandOver final : public Link {
 public:
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    std::unique_lock lock(mutex_);
    readings_ = in;
    turn_ = Turn::master;
    changed_.notify_all();
    changed_.wait(lock, [&] { return turn_ == Turn::loop || leaving_; });
    if (leaving_) return CTL_BAD_ARGUMENT;
    out = commands_;
    return CTL_OK;
  }
  /// Waits for the next readings; false: the loop has ended.
  bool wait(ctl_inputs& readings) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return turn_ == Turn::master || ended_; });
    if (turn_ == Turn::master) readings = readings_;
    return turn_ == Turn::master;
  }
  void give(const ctl_outputs& commands) {
    const std::lock_guard lock(mutex_);
    commands_ = commands;
    turn_ = Turn::loop;
    changed_.notify_all();
  }
  void leave() {
    const std::lock_guard lock(mutex_);
    leaving_ = true;
    changed_.notify_all();
  }
  void finish() {
    const std::lock_guard lock(mutex_);
    ended_ = true;
    changed_.notify_all();
  }

 private:
  enum class Turn { loop, master };
  std::mutex mutex_;
  std::condition_variable changed_;
  Turn turn_ = Turn::loop;
  bool leaving_ = false, ended_ = false;
  ctl_inputs readings_{};
  ctl_outputs commands_{};
};

/// A run under way.
class RunInThread {
 public:
  explicit RunInThread(const scenarios::Case& c)
      : thread_([this, &c] {
          record_ = run_loop(c, link_);
          link_.finish();
        }) {}
  ~RunInThread() {
    link_.leave();
    thread_.join();
  }
  RunInThread(const RunInThread&) = delete;
  RunInThread& operator=(const RunInThread&) = delete;

  bool wait(ctl_inputs& readings) { return link_.wait(readings); }
  void give(const ctl_outputs& commands) { link_.give(commands); }
  /// Once wait() has said that the loop has ended.
  const plant::RunResult& end() const { return record_.end; }

 private:
  HandOver link_;
  RunRecord record_;
  std::thread thread_;
};

const RegisterRow* row_of(unsigned reference, RegisterType type) {
  for (const RegisterRow* row : unit_variables())
    if (unit_reference(*row) == reference && row->type == type) return row;
  return nullptr;
}

}  // namespace

class PlantUnit::Running final : public RunInThread {
  using RunInThread::RunInThread;
};

PlantUnit::PlantUnit(Log log) : log_(std::move(log)) {}
PlantUnit::~PlantUnit() = default;

UnitAnswer PlantUnit::report(UnitAnswer answer, const std::string& what) const {
  if (log_) log_(answer, answer == UnitAnswer::ok ? "logAll" : "logStatusError", what);
  return answer;
}
UnitAnswer PlantUnit::missing(const char* what) const {
  return report(UnitAnswer::error,
                fmt::format("{}: this unit cannot do that, as its description says", what));
}

bool PlantUnit::open(const std::string& guid, const std::filesystem::path& resources) {
  const auto refuse = [this](const std::string& what) {
    report(UnitAnswer::error, what);
    return false;
  };
  const std::filesystem::path file = resources / kUnitScenario;
  std::ifstream in(file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  if (text.empty()) return refuse(file.string() + " cannot be read");
  if (guid != unit_guid(text)) return refuse("the description belongs to another unit");
  auto read = scenarios::read_case(file, resources);
  if (!read) return refuse(scenarios::to_text(read.problems));
  plant_ = std::move(*read.value);
  // the readings at the end of the last step are wanted too
  plant_.scenario.duration += plant_.scenario.period;
  const auto around = surroundings(plant_);
  if (!around.problems.empty()) return refuse(around.problems.front());
  readings_.resize(static_cast<std::size_t>(register_count(RegisterTable::input)));
  commands_.resize(static_cast<std::size_t>(register_count(RegisterTable::holding)));
  return true;
}

void PlantUnit::take(const ctl_inputs& in) {
  put_inputs(in, static_cast<float>(plant_.scenario.period), readings_);
}

UnitAnswer PlantUnit::initialise(double start) {
  if (start != 0.0) return report(UnitAnswer::error, "the scenario starts at 0 s");
  tick_ = 0;
  running_ = std::make_unique<Running>(plant_);
  ctl_inputs in{};
  if (!running_->wait(in)) return report(UnitAnswer::error, "the run ended before it began");
  take(in);
  return UnitAnswer::ok;
}

UnitAnswer PlantUnit::step(double time, double size) {
  constexpr double kClose = 1e-6;  // of a period
  if (!running_) return report(UnitAnswer::error, "not initialised");
  const double period = plant_.scenario.period, ticks = std::round(size / period);
  constexpr double kTicksMax = 9007199254740992.0;  // 2^53: all whole numbers below it are exact
  if (!(ticks >= 1.0 && ticks < kTicksMax) || std::abs(size / period - ticks) > kClose)
    return report(UnitAnswer::error,
                  fmt::format("a step of {} s is not whole periods of {} s", size, period));
  if (!(std::abs(time / period - static_cast<double>(tick_)) <= kClose))
    return report(UnitAnswer::error,
                  fmt::format("the unit is at {} s, not at {} s", PlantUnit::time(), time));
  ctl_outputs out = unwritten_outputs<controller::ModuleController>();
  take_outputs(commands_, out);
  ctl_inputs in{};
  for (auto n = static_cast<std::int64_t>(ticks); n > 0; --n) {
    running_->give(out);
    if (!running_->wait(in)) {
      const plant::RunResult& end = running_->end();
      return report(end.reason == plant::RunEnd::reached_end ? UnitAnswer::discard : UnitAnswer::error,
                    fmt::format("{} at {} s: {}", plant::word(end.reason), end.time, end.who));
    }
    ++tick_;
  }
  take(in);
  return UnitAnswer::ok;
}

double PlantUnit::time() const {
  return static_cast<double>(tick_) * plant_.scenario.period;
}
bool PlantUnit::at_end() const {
  return tick_ + 1 >= static_cast<std::int64_t>(scenarios::periods(plant_.scenario));
}
void PlantUnit::terminate() {
  running_.reset();
}
void PlantUnit::reset() {
  running_.reset();
  tick_ = 0;
  std::fill(commands_.begin(), commands_.end(), std::uint16_t{0});
}

std::optional<std::uint32_t> PlantUnit::bits(unsigned reference, RegisterType type) const {
  const RegisterRow* row = row_of(reference, type);
  if (row == nullptr) {
    report(UnitAnswer::error, fmt::format("there is no variable {} of this type", reference));
    return {};
  }
  return take_whole(row->table == RegisterTable::input ? readings_ : commands_, row->address);
}

UnitAnswer PlantUnit::set(unsigned reference, RegisterType type, double value) {
  const RegisterRow* row = row_of(reference, type);
  if (row == nullptr || row->table != RegisterTable::holding)
    return report(UnitAnswer::error, fmt::format("there is no input {} of this type", reference));
  if (!(value >= row->lower && value <= row->upper))
    return report(UnitAnswer::error, fmt::format("{} may not be {}: it is not from {:g} to {:g}",
                                                 unit_name(*row), value, row->lower, row->upper));
  const std::uint32_t bits = type == RegisterType::number
                                 ? std::bit_cast<std::uint32_t>(static_cast<float>(value))
                                 : static_cast<std::uint32_t>(value);
  const auto at = static_cast<std::size_t>(row->address);
  commands_[at] = static_cast<std::uint16_t>(bits >> 16U);
  commands_[at + 1] = static_cast<std::uint16_t>(bits & 0xffffU);
  return UnitAnswer::ok;
}

}  // namespace duskline::harness
