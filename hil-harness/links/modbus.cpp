#include "hil-harness/links/modbus.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <modbus/modbus.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstring>
#include <vector>

#include "hil-harness/links/answer.hpp"
#include "hil-harness/links/register_map.hpp"

namespace duskline::harness {
namespace {

constexpr std::size_t kClientsMax = 8;
constexpr std::size_t kHeader = 7;  // bytes of a TCP frame before the function code

struct Closed {
  void operator()(modbus_t* c) const { modbus_free(c); }
  void operator()(modbus_mapping_t* m) const { modbus_mapping_free(m); }
};

std::uint16_t word_at(const std::uint8_t* bytes) {
  return static_cast<std::uint16_t>(bytes[0] << 8 | bytes[1]);
}

/// What a request would write: address, number of registers, first byte of its values. Empty when it writes nothing.
struct Write {
  int address = 0, count = 0;
  const std::uint8_t* values = nullptr;
};

/// A request of a function that we know: whether it has all its bytes, and what it would write.
struct Request {
  bool known = false, whole = false;
  Write write{};
};

Request request_of(std::span<const std::uint8_t> frame) {
  const auto pdu = frame.subspan(kHeader);
  const auto has_values = [&pdu](std::size_t head, int count) {
    return count >= 1 && pdu[head - 1] == 2 * count &&
           pdu.size() == head + 2 * static_cast<std::size_t>(count);
  };
  switch (pdu[0]) {
    case MODBUS_FC_READ_HOLDING_REGISTERS:
    case MODBUS_FC_READ_INPUT_REGISTERS:
      return {true, pdu.size() == 5, {}};
    case MODBUS_FC_WRITE_SINGLE_REGISTER:
      if (pdu.size() != 5) return {true, false, {}};
      return {true, true, {word_at(&pdu[1]), 1, &pdu[3]}};
    case MODBUS_FC_WRITE_MULTIPLE_REGISTERS:
      if (pdu.size() < 6 || !has_values(6, word_at(&pdu[3]))) return {true, false, {}};
      return {true, true, {word_at(&pdu[1]), word_at(&pdu[3]), pdu.data() + 6}};
    case MODBUS_FC_WRITE_AND_READ_REGISTERS:
      if (pdu.size() < 10 || !has_values(10, word_at(&pdu[7]))) return {true, false, {}};
      return {true, true, {word_at(&pdu[5]), word_at(&pdu[7]), pdu.data() + 10}};
    default:
      return {};
  }
}

struct Client {
  int socket;
  std::vector<std::uint8_t> bytes;  ///< received and not yet a whole frame
};

}  // namespace

template <class C>
struct ModbusServerOf<C>::Inside {
  std::unique_ptr<modbus_t, Closed> context;
  std::unique_ptr<modbus_mapping_t, Closed> registers;
  int listening = -1, port = 0;
  float period = 0.0f;
  double limit = kModbusLimit;
  std::vector<Client> clients;
  std::string error;

  std::span<const std::uint16_t> holding() const {
    return {registers->tab_registers, static_cast<std::size_t>(registers->nb_registers)};
  }

  /// A value that would be written and may not: the registers after the write hold a command that is no number or
  /// outside its limits.
  bool refuses(const Write& write) const {
    std::vector<std::uint16_t> after(holding().begin(), holding().end());
    for (int k = 0; k < write.count; ++k) {
      const int address = write.address + k;
      if (address < static_cast<int>(after.size()))
        after[static_cast<std::size_t>(address)] = word_at(write.values + 2 * k);
    }
    for (const RegisterRow& row : register_map<C>()) {
      const bool touched = row.table == RegisterTable::holding && row.address + 1 >= write.address &&
                           row.address < write.address + write.count;
      if (!touched) continue;
      const double value = row.type == RegisterType::number
                               ? double{take_number(after, row.address)}
                               : static_cast<double>(take_whole(after, row.address));
      if (std::isnan(row.lower) ? std::isinf(value) : !(value >= row.lower && value <= row.upper))
        return true;
    }
    return false;
  }

  void serve(int socket, std::span<const std::uint8_t> frame) {
    modbus_set_socket(context.get(), socket);
    const Request request = request_of(frame);
    // the order of checks of the standard: function, quantity, address, value; addresses and the quantity of a read
    // are the library's
    const bool inside = request.write.address + request.write.count <= registers->nb_registers;
    if (!request.known)
      modbus_reply_exception(context.get(), frame.data(), MODBUS_EXCEPTION_ILLEGAL_FUNCTION);
    else if (!request.whole || (inside && refuses(request.write)))
      modbus_reply_exception(context.get(), frame.data(), MODBUS_EXCEPTION_ILLEGAL_DATA_VALUE);
    else
      modbus_reply(context.get(), frame.data(), static_cast<int>(frame.size()), registers.get());
  }

  /// Takes what has arrived and answers all whole frames; false when the client has gone or speaks no Modbus. Frames
  /// are cut by the length in their header, which the library does not do for functions that it does not know.
  bool attend(Client& client) {
    std::array<std::uint8_t, 1024> bytes;
    const ssize_t got = recv(client.socket, bytes.data(), bytes.size(), MSG_DONTWAIT);
    if (got <= 0) return got < 0 && (errno == EAGAIN || errno == EINTR);
    client.bytes.insert(client.bytes.end(), bytes.begin(), bytes.begin() + got);
    while (client.bytes.size() > kHeader) {
      const std::size_t length = 6u + word_at(&client.bytes[4]);
      if (word_at(&client.bytes[2]) != 0 || length <= kHeader || length > MODBUS_TCP_MAX_ADU_LENGTH)
        return false;
      if (client.bytes.size() < length) break;
      serve(client.socket, std::span(client.bytes).first(length));
      client.bytes.erase(client.bytes.begin(), client.bytes.begin() + static_cast<long>(length));
    }
    return true;
  }

  /// Waits up to `milliseconds` for requests and answers them.
  void attend(int milliseconds) {
    // when all places are taken, a new client waits until one of them goes
    std::vector<pollfd> wait{{listening, static_cast<short>(clients.size() < kClientsMax ? POLLIN : 0), 0}};
    for (const Client& client : clients) wait.push_back({client.socket, POLLIN, 0});
    if (poll(wait.data(), wait.size(), milliseconds) <= 0) return;
    for (std::size_t k = wait.size(); k-- > 1;)
      if (wait[k].revents != 0 && !attend(clients[k - 1])) {
        close(clients[k - 1].socket);
        clients.erase(clients.begin() + static_cast<long>(k - 1));
      }
    if (wait[0].revents == 0) return;
    if (const int client = accept4(listening, nullptr, nullptr, SOCK_CLOEXEC); client >= 0)
      clients.push_back({client, {}});
  }

  bool armed() const {
    return take_whole(holding(), registers::kVersion) == register_map_version<C>() &&
           take_whole(holding(), registers::kArm) == registers::kArmed;
  }
};

template <class C>
ModbusServerOf<C>::ModbusServerOf() : inside_(std::make_unique<Inside>()) {}

template <class C>
ModbusServerOf<C>::~ModbusServerOf() {
  for (const Client& client : inside_->clients) close(client.socket);
  if (inside_->listening >= 0) close(inside_->listening);
}

template <class C>
std::string ModbusServerOf<C>::listen(const std::string& address, float period, double limit) {
  Inside& s = *inside_;
  const std::size_t colon = address.rfind(':');
  if (colon == std::string::npos) return "is no address; HOST:PORT is one, such as 127.0.0.1:1502";
  const std::string host = address.substr(0, colon), port = address.substr(colon + 1);
  if (port.empty() || port.size() > 5 || port.find_first_not_of("0123456789") != std::string::npos ||
      std::stoi(port) > 65535)
    return "has no port from 0 to 65535 behind its ':'";
  s.context.reset(modbus_new_tcp(host.c_str(), std::stoi(port)));
  if (!s.context) return fmt::format("cannot be listened on: {}", modbus_strerror(errno));
  s.listening = modbus_tcp_listen(s.context.get(), static_cast<int>(kClientsMax));
  if (s.listening < 0) return fmt::format("cannot be listened on: {}", modbus_strerror(errno));
  sockaddr_in name{};
  socklen_t size = sizeof name;
  if (getsockname(s.listening, reinterpret_cast<sockaddr*>(&name), &size) == 0) s.port = ntohs(name.sin_port);
  s.registers.reset(modbus_mapping_new(0, 0, register_count<C>(RegisterTable::holding),
                                       register_count<C>(RegisterTable::input)));
  if (!s.registers) return "has no memory for its registers";
  for (const RegisterRow& row : register_map<C>())
    if (std::isnan(row.lower))
      set_number({s.registers->tab_registers, static_cast<std::size_t>(s.registers->nb_registers)},
                 row.address, std::nanf(""));
  s.period = period;
  s.limit = limit;
  return {};
}

template <class C>
int ModbusServerOf<C>::port() const {
  return inside_->port;
}

template <class C>
std::string ModbusServerOf<C>::error() const {
  return inside_->error;
}

template <class C>
ctl_status ModbusServerOf<C>::step(const Inputs& in, Outputs& out) {
  using Clock = std::chrono::steady_clock;
  Inside& s = *inside_;
  put_inputs(in, s.period,
             {s.registers->tab_input_registers, static_cast<std::size_t>(s.registers->nb_input_registers)});
  const auto begin = Clock::now();
  // the first tick is 0 like a register that nobody has written: it needs an armed answer or a silence
  const auto answered = [&] { return s.armed() && take_whole(s.holding(), registers::kTick) == in.tick; };
  while (!answered()) {
    if (std::chrono::duration<double>(Clock::now() - begin).count() > s.limit) {
      s.error = fmt::format("Modbus client: no commands for tick {} within {:g} s{}", in.tick, s.limit,
                            s.clients.empty() ? ", none is connected"
                            : take_whole(s.holding(), registers::kVersion) != register_map_version<C>()
                                ? ", it was made for another map"
                            : !s.armed() ? ", it has not armed the commands"
                                         : "");
      return CTL_BAD_ARGUMENT;
    }
    s.attend(100);
  }
  out = unwritten_outputs<C>();
  take_outputs(s.holding(), out);
  return CTL_OK;
}

template <class C>
scenarios::Result<std::shared_ptr<ModbusServerOf<C>>> open_modbus(const std::string& address, float period) {
  auto server = std::make_shared<ModbusServerOf<C>>();
  if (std::string wrong = server->listen(address, period); !wrong.empty())
    return {std::nullopt, {{"--link", 1, 1, address, std::move(wrong)}}};
  return {std::move(server), {}};
}

template class ModbusServerOf<ModuleController>;
template class ModbusServerOf<PlantController>;
template scenarios::Result<std::shared_ptr<ModbusServer>> open_modbus<ModuleController>(const std::string&,
                                                                                        float);
template scenarios::Result<std::shared_ptr<ModbusServerOf<PlantController>>> open_modbus<PlantController>(
    const std::string&, float);

}  // namespace duskline::harness
