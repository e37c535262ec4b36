/// The console over HTTP: the page, the stream of events, and what people ask.
///
/// What it is   routes over a training session (docs/reference/console-protocol.md)
/// Validity     loopback without keys; any other address needs keys. Refused: another host or origin in a request, a
///              request without the header of the page, a body that is no small JSON object
/// Left out     encryption: over a network the console stands behind a proxy or a tunnel that gives it
#pragma once

#include <atomic>
#include <memory>
#include <string>
#include <vector>

#include "hil-harness/train/training_session.hpp"

namespace duskline::harness {

struct AccessKey {
  std::string key;
  PersonRole role{};
};

struct ServerSettings {
  std::string address = "127.0.0.1";
  int port = 0;  ///< 0: any that is free
  std::vector<AccessKey> keys;
};

class ConsoleServer {
 public:
  ConsoleServer(TrainingSession& session, ServerSettings settings);
  ~ConsoleServer();
  ConsoleServer(const ConsoleServer&) = delete;
  ConsoleServer& operator=(const ConsoleServer&) = delete;

  /// Takes the port; its number, or 0 when it cannot be had.
  int bind();
  /// Serves until stop(); called once after bind().
  void serve();
  void stop();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// An address as it stands before the port in a URL: one of IPv6 in brackets.
std::string in_url(const std::string& address);

/// The keys of a file, `ROLE KEY` a line; every problem of it.
scenarios::Result<std::vector<AccessKey>> read_keys(const std::string& path);

}  // namespace duskline::harness
