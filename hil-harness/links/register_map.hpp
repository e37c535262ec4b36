/// Registers through which a controller of another make reads the plant and writes its commands.
///
/// What it is   one table for each kind of controller, walked from the dictionaries of its measurements and commands: every
///              value has two registers; that of the plant controller holds what the modules report, and its orders to them
/// Equation     float: IEEE 754 single, high word first; whole number: 32 bits, high word first
/// Symbols      C: which controller; SI units; addresses from 0, as in the protocol data unit
/// Validity     the version is the CRC-32 of the table's text: a map that differs in any row has another version
/// Source       Modbus Application Protocol Specification V1.1b3 (input and holding registers, 16 bits each)
/// Left out     estimates, alarms and what people do about them: they are internal to the controller
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "controller/port/interface.hpp"

namespace duskline::harness {

enum class RegisterTable { input, holding };  // read by the controller; written by it
enum class RegisterType { number, whole };    // float32, uint32

struct RegisterRow {
  RegisterTable table;
  int address;  ///< of the first of its two registers
  RegisterType type;
  std::string name, unit, meaning;
  double lower, upper;  ///< of a command: what may be written; not a number: also no limit, and so at first
};

/// The map, input registers first, each table in order of address.
template <class C = controller::ModuleController>
const std::vector<RegisterRow>& register_map();
/// The map as comma-separated values with a heading; what the version is made of.
template <class C = controller::ModuleController>
std::string register_map_csv();
template <class C = controller::ModuleController>
std::uint32_t register_map_version();

/// Addresses of what is no measurement and no command.
namespace registers {
inline constexpr int kVersion =
    0;  ///< input: version of this map; holding: version that the controller was made for
inline constexpr int kTick = 2;  ///< input: tick of the measurements; holding: tick that the commands answer
inline constexpr int kPeriod = 4;     ///< input: control period
inline constexpr int kWordOrder = 6;  ///< input: 123.456, by which a client checks its order of words
inline constexpr int kArm = 4;        ///< holding: kArmed lets the commands act
inline constexpr std::uint32_t kArmed = 0x41524D31;
}  // namespace registers

template <class C = controller::ModuleController>
int register_count(RegisterTable table);

/// Fills the input registers with what the controller may know.
void put_inputs(const ctl_inputs& in, float period, std::span<std::uint16_t> input);
void put_inputs(const ctl_plant_inputs& in, float period, std::span<std::uint16_t> input);
/// Takes the commands and the mode out of the holding registers.
void take_outputs(std::span<const std::uint16_t> holding, ctl_outputs& out);
void take_outputs(std::span<const std::uint16_t> holding, ctl_plant_outputs& out);

std::uint32_t take_whole(std::span<const std::uint16_t> registers, int address);
float take_number(std::span<const std::uint16_t> registers, int address);
void set_number(std::span<std::uint16_t> registers, int address, float value);

}  // namespace duskline::harness
