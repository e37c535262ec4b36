/// A controller behind Modbus TCP: the plant is the server, the controller its client.
///
/// What it is   at each tick the measurements stand in the input registers; the tick goes on when a client has
///              written its commands with the number of that tick
/// Equation     commands act while the client has written the version of the map and the arm word; without them the tick
///              waits, and the run ends when it has waited for too long
/// Symbols      C: which controller; registers of register_map.hpp
/// Validity     lockstep; a client that stays silent for 10 s ends the run; several clients may read; a command that
///              is no number or outside its limits is answered with exception 03 and not taken
/// Source       Modbus Application Protocol Specification V1.1b3; Modbus Messaging on TCP/IP Implementation Guide V1.0b
/// Left out     real time; serial Modbus; a restart of the controller, which the client decides for itself
#pragma once

#include <memory>
#include <string>

#include "hil-harness/links/link.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

inline constexpr double kModbusLimit = 10.0;  ///< s that the commands of a tick may take

/// Listens on "HOST:PORT" (port 0: any that is free); `period` [s] is given to the client.
template <class C>
class ModbusServerOf final : public LinkOf<C> {
 public:
  using typename LinkOf<C>::Inputs, typename LinkOf<C>::Outputs;

  ModbusServerOf();
  ~ModbusServerOf() override;

  /// What is wrong, or nothing; `limit` [s] is what the commands of a tick may take.
  std::string listen(const std::string& address, float period, double limit = kModbusLimit);
  int port() const;

  ctl_status step(const Inputs& in, Outputs& out) override;
  std::string name() const override { return "Modbus client"; }
  std::string error() const override;
  plant::RunEnd end() const override { return plant::RunEnd::link_lost; }

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};
using ModbusServer = ModbusServerOf<ModuleController>;

template <class C = ModuleController>
scenarios::Result<std::shared_ptr<ModbusServerOf<C>>> open_modbus(const std::string& address, float period);

}  // namespace duskline::harness
