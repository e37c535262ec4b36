#include "hil-harness/links/emulator.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <cstdlib>
#include <filesystem>

#include "hil-harness/links/descriptor.hpp"

namespace duskline::harness {
namespace {

constexpr AnswerLimit kAnswerLimit{20.0, 1};  // s, generous: a loaded machine is slow; a pipe loses nothing
constexpr const char* kEmulator = "qemu-system-arm";
// The board's time is its instructions, 2^6 ns each: the same on every machine.
constexpr const char* kInstructionClock = "shift=6,sleep=off";
static_assert(kInstructionsPerCount * 64.0 == 1e9 / 25e6);  // its counter's rate (counter.hpp)

/// A child process whose standard input and output are one socket, and whose errors are kept for a message.
class ChildStream final : public ByteStream {
 public:
  explicit ChildStream(std::vector<std::string> words) {
    std::array<int, 2> pair{}, errors{};
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, pair.data()) != 0) return;
    if (pipe2(errors.data(), O_CLOEXEC | O_NONBLOCK) != 0) {
      close(pair[0]), close(pair[1]);
      return;
    }
    std::vector<char*> argv;
    for (std::string& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    child_ = fork();
    if (child_ == 0) {
      setpgid(0, 0);  // Ctrl-C is for the run, which then ends the emulator itself
      dup2(pair[1], STDIN_FILENO);
      dup2(pair[1], STDOUT_FILENO);
      dup2(errors[1], STDERR_FILENO);
      execvp(argv[0], argv.data());
      _exit(127);
    }
    close(pair[1]);
    close(errors[1]);
    stream_ = pair[0];
    errors_ = errors[0];
  }

  ~ChildStream() override {
    if (stream_ >= 0) shutdown(stream_, SHUT_WR);
    // it ends by itself at the end of its input; one that does not is killed
    for (int i = 0; i < 50 && child_ > 0 && !ended(); ++i) poll(nullptr, 0, 10);
    if (child_ > 0 && !ended()) {
      kill(child_, SIGKILL);
      waitpid(child_, nullptr, 0);
    }
    if (stream_ >= 0) close(stream_);
    if (errors_ >= 0) close(errors_);
  }
  ChildStream(const ChildStream&) = delete;
  ChildStream& operator=(const ChildStream&) = delete;

  bool write(std::span<const std::uint8_t> bytes, double seconds) override {
    return write_all(stream_, bytes, seconds);
  }
  long read(std::span<std::uint8_t> bytes, double seconds) override {
    return read_some(stream_, bytes, seconds);
  }

  std::string last_words() override {
    std::array<char, 512> text{};
    const ssize_t got = ::read(errors_, text.data(), text.size());
    std::string words(text.data(), got > 0 ? static_cast<std::size_t>(got) : 0);
    words = words.substr(0, words.find('\n'));
    return words;
  }

 private:
  bool ended() {
    if (child_ > 0 && waitpid(child_, nullptr, WNOHANG) == child_) child_ = -1;
    return child_ <= 0;
  }

  pid_t child_ = -1;
  int stream_ = -1, errors_ = -1;
};

/// Whether a program of that name is on the PATH.
bool installed(const std::string& program) {
  const char* path = std::getenv("PATH");
  std::string_view rest = path == nullptr ? "" : path;
  while (!rest.empty()) {
    const std::filesystem::path folder(rest.substr(0, rest.find(':')));
    rest.remove_prefix(std::min(rest.size(), folder.native().size() + 1));
    if (access((folder / program).c_str(), X_OK) == 0) return true;
  }
  return false;
}

}  // namespace

template <class C>
scenarios::Result<std::shared_ptr<FramedLinkOf<C>>> open_emulator(const std::string& image,
                                                                  const typename C::Params& params) {
  const auto refuse = [&image](std::string message) -> scenarios::Result<std::shared_ptr<FramedLinkOf<C>>> {
    return {std::nullopt, {{"--link", 1, 1, image, std::move(message)}}};
  };
  std::error_code error;
  if (!std::filesystem::is_regular_file(image, error))
    return refuse("there is no such image; controller/port/cortex-m/CMakeLists.txt says how to build it");
  if (!installed(kEmulator))
    return refuse(fmt::format("{} is not installed (Debian package qemu-system-arm)", kEmulator));
  auto stream = std::make_unique<ChildStream>(std::vector<std::string>{
      kEmulator, "-machine", "mps2-an386", "-kernel", image, "-display", "none", "-monitor", "none",
      "-serial", "none", "-icount", kInstructionClock, "-semihosting-config", "enable=on,target=native"});
  auto link = std::make_shared<FramedLinkOf<C>>(std::move(stream), "emulator", kAnswerLimit);
  if (std::string wrong = link->start(params); !wrong.empty()) return refuse(std::move(wrong));
  return {std::move(link), {}};
}

template scenarios::Result<std::shared_ptr<FramedLink>> open_emulator<ModuleController>(const std::string&,
                                                                                        const ctl_params&);
template scenarios::Result<std::shared_ptr<FramedLinkOf<PlantController>>> open_emulator<PlantController>(
    const std::string&, const ctl_plant_params&);

}  // namespace duskline::harness
