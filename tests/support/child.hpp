/// Runs the program as its users do: a process of its own, with what it said and how it ended.
#pragma once

#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <functional>
#include <optional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "tests/support/folder.hpp"

namespace duskline::tests {

struct Child {
  int exit_code = -1;  ///< -1: ended by a signal
  int signal = 0;
  std::string out, err;
  long largest_memory = 0;  ///< KiB resident
};

struct ChildOptions {
  std::string folder{};  ///< to start in; empty: here
  std::vector<std::pair<std::string, std::string>> environment{};
  std::optional<rlim_t> largest_file{};  ///< bytes
  std::optional<uid_t> user{};
  bool terminal = false;  ///< standard error is a terminal (then `err` is what it got)
  int signal = 0;         ///< sent once `when` says so
  std::function<bool()> when{};
};

/// Runs `program` with `words`; the output goes through files, so nothing waits for a full pipe.
inline Child run_child(const std::string& program, const std::vector<std::string>& words,
                       const ChildOptions& options = {}) {
  static int count = 0;
  const Folder folder{"child-" + std::to_string(count++)};
  const std::string out = folder.file("out"), err = folder.file("err");
  std::vector<char*> argv{const_cast<char*>(program.c_str())};
  for (const std::string& word : words) argv.push_back(const_cast<char*>(word.c_str()));
  argv.push_back(nullptr);
  int terminal = -1, side = -1;
  if (options.terminal) {
    winsize size{24, 80, 0, 0};
    if (openpty(&terminal, &side, nullptr, nullptr, &size) != 0) return {};
  }
  const pid_t pid = fork();
  if (pid == 0) {
    for (const int s : {SIGINT, SIGTERM, SIGHUP, SIGPIPE, SIGXFSZ}) std::signal(s, SIG_DFL);
    const int to_out = open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666);
    const int to_err = options.terminal ? side : open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666);
    dup2(to_out, STDOUT_FILENO);
    dup2(to_err, STDERR_FILENO);
    if (!options.folder.empty() && chdir(options.folder.c_str()) != 0) _exit(126);
    for (const auto& [name, value] : options.environment) setenv(name.c_str(), value.c_str(), 1);
    if (options.largest_file) {
      const rlimit limit{*options.largest_file, *options.largest_file};
      if (setrlimit(RLIMIT_FSIZE, &limit) != 0) _exit(126);
    }
    if (options.user && setuid(*options.user) != 0) _exit(126);
    execvp(argv[0], argv.data());
    _exit(127);
  }
  if (side >= 0) close(side);
  Child child;
  int status = 0;
  rusage usage{};
  bool sent = options.signal == 0;
  while (wait4(pid, &status, WNOHANG, &usage) == 0) {
    pollfd waits{terminal, POLLIN, 0};
    if (terminal >= 0 && poll(&waits, 1, 5) > 0) {
      char bytes[4096];
      if (const ssize_t n = read(terminal, bytes, sizeof bytes); n > 0)
        child.err.append(bytes, static_cast<std::size_t>(n));
    }
    if (terminal < 0) std::this_thread::sleep_for(std::chrono::milliseconds(2));
    if (!sent && options.when()) {
      kill(pid, options.signal);
      sent = true;
    }
  }
  if (terminal >= 0) {
    char bytes[4096];
    for (ssize_t n; (n = read(terminal, bytes, sizeof bytes)) > 0;)
      child.err.append(bytes, static_cast<std::size_t>(n));
    close(terminal);
  }
  if (WIFEXITED(status)) child.exit_code = WEXITSTATUS(status);
  if (WIFSIGNALED(status)) child.signal = WTERMSIG(status);
  child.out = bytes_of(out);
  if (terminal < 0) child.err = bytes_of(err);
  child.largest_memory = usage.ru_maxrss;
  return child;
}

inline const std::string kProgram = [] {
  const char* const other = std::getenv("DUSKLINE_PROGRAM");
  return std::string(other != nullptr ? other : DUSKLINE_BINARY_DIR "/duskline");
}();
inline const std::string kLibrary = DUSKLINE_SOURCE_DIR "/scenarios/library/";
inline const std::string kSol = kLibrary + "dawn-dusk/equinox-sol.yaml";

inline Child run_duskline(const std::vector<std::string>& words, const ChildOptions& options = {}) {
  return run_child(kProgram, words, options);
}

/// `text` with every `what` taken out.
inline std::string without(std::string text, const std::string& what) {
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos;) text.erase(at, what.size());
  return text;
}

inline bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace duskline::tests
