#include "hil-harness/links/serial.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <cstring>
#include <utility>

#include "hil-harness/links/descriptor.hpp"

namespace duskline::harness {
namespace {

class DescriptorStream final : public ByteStream {
 public:
  explicit DescriptorStream(int descriptor) : descriptor_(descriptor) {}
  ~DescriptorStream() override { close(descriptor_); }
  DescriptorStream(const DescriptorStream&) = delete;
  DescriptorStream& operator=(const DescriptorStream&) = delete;

  bool write(std::span<const std::uint8_t> bytes, double seconds) override {
    return write_all(descriptor_, bytes, seconds);
  }
  long read(std::span<std::uint8_t> bytes, double seconds) override {
    return read_some(descriptor_, bytes, seconds);
  }

 private:
  int descriptor_;
};

struct Opened {
  int descriptor = -1;
  std::string problem;
};

struct Rate {
  int baud;
  speed_t speed;
};
constexpr Rate kRates[]{{9600, B9600},     {19200, B19200},   {38400, B38400},   {57600, B57600},
                        {115200, B115200}, {230400, B230400}, {460800, B460800}, {921600, B921600}};

Opened open_device(const std::string& device, int baud) {
  speed_t speed = B0;
  for (const Rate& rate : kRates)
    if (rate.baud == baud) speed = rate.speed;
  if (speed == B0)
    return {-1, fmt::format("{} baud is not a usual rate; 9600 to 921600 are, such as 115200", baud)};
  const int fd = open(device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (fd < 0) return {-1, std::strerror(errno)};
  termios line{};
  if (tcgetattr(fd, &line) != 0) {
    close(fd);
    return {-1, "is not a serial device"};
  }
  cfmakeraw(&line);
  line.c_cflag |= CLOCAL | CREAD;
  cfsetispeed(&line, speed);
  cfsetospeed(&line, speed);
  if (tcsetattr(fd, TCSANOW, &line) != 0) {
    const Opened refused{-1, fmt::format("does not take {} baud: {}", baud, std::strerror(errno))};
    close(fd);
    return refused;
  }
  tcflush(fd, TCIOFLUSH);
  return {fd, {}};
}

Opened open_tcp(const std::string& host, const std::string& port) {
  addrinfo hints{}, *found = nullptr;
  hints.ai_socktype = SOCK_STREAM;
  if (const int wrong = getaddrinfo(host.c_str(), port.c_str(), &hints, &found); wrong != 0)
    return {-1, gai_strerror(wrong)};
  Opened opened{-1, "no address"};
  for (const addrinfo* at = found; at != nullptr && opened.descriptor < 0; at = at->ai_next) {
    const int fd = socket(at->ai_family, at->ai_socktype | SOCK_CLOEXEC, at->ai_protocol);
    if (fd >= 0 && connect(fd, at->ai_addr, at->ai_addrlen) == 0) {
      const int on = 1;
      setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
      opened = {fd, {}};
    } else {
      opened.problem = std::strerror(errno);
      if (fd >= 0) close(fd);
    }
  }
  freeaddrinfo(found);
  return opened;
}

Opened open_address(const std::string& address) {
  if (address.starts_with("tcp:")) {
    const std::size_t colon = address.rfind(':');
    if (colon <= 4) return {-1, "is no address; tcp:HOST:PORT is one, such as tcp:127.0.0.1:7000"};
    return open_tcp(address.substr(4, colon - 4), address.substr(colon + 1));
  }
  const std::size_t at = address.rfind('@');
  int baud = 115200;
  if (at != std::string::npos) {
    const char* end = address.data() + address.size();
    const auto read = std::from_chars(address.data() + at + 1, end, baud);
    if (read.ec != std::errc{} || read.ptr != end)
      return {-1, "has no whole number of baud behind its '@'; DEVICE@115200 has"};
  }
  return open_device(address.substr(0, at), baud);
}

}  // namespace

template <class C>
scenarios::Result<std::shared_ptr<FramedLinkOf<C>>> open_serial(const std::string& address,
                                                                const typename C::Params& params,
                                                                AnswerLimit limit) {
  const auto refuse = [&address](std::string message) -> scenarios::Result<std::shared_ptr<FramedLinkOf<C>>> {
    return {std::nullopt, {{"--link", 1, 1, address, std::move(message)}}};
  };
  Opened opened = open_address(address);
  if (opened.descriptor < 0) return refuse("cannot be opened: " + opened.problem);
  auto link = std::make_shared<FramedLinkOf<C>>(std::make_unique<DescriptorStream>(opened.descriptor),
                                                address, limit);
  if (std::string wrong = link->start(params); !wrong.empty()) return refuse(std::move(wrong));
  return {std::move(link), {}};
}

template scenarios::Result<std::shared_ptr<FramedLink>> open_serial<ModuleController>(const std::string&,
                                                                                      const ctl_params&,
                                                                                      AnswerLimit);
template scenarios::Result<std::shared_ptr<FramedLinkOf<PlantController>>> open_serial<PlantController>(
    const std::string&, const ctl_plant_params&, AnswerLimit);

}  // namespace duskline::harness
