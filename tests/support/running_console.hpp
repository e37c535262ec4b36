/// A training session with its server, as `duskline train` has them, and what a browser asks of it.
#pragma once

#include <httplib.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "hil-harness/train/console_server.hpp"

namespace duskline::tests {

/// A session with its server, as `duskline train` has them.
class RunningConsole {
 public:
  explicit RunningConsole(scenarios::Case c, std::vector<harness::AccessKey> keys = {},
                          const std::string& file = "", scenarios::ConsoleFile shown = {})
      : session_(std::move(c), std::move(shown), "calm", harness::kTrainingSpeedMax),
        server_(session_, {"127.0.0.1", 0, std::move(keys)}) {
    const std::string problem = session_.open(file);
    INFO(problem);
    REQUIRE(problem.empty());
    port_ = server_.bind();
    REQUIRE(port_ > 0);
    session_.start();
    thread_ = std::thread([this] { server_.serve(); });
  }
  ~RunningConsole() {
    server_.stop();
    thread_.join();
  }
  RunningConsole(const RunningConsole&) = delete;
  RunningConsole& operator=(const RunningConsole&) = delete;

  int port() const { return port_; }
  harness::TrainingSession& session() { return session_; }
  httplib::Headers as(const std::string& role) const {
    return {{"Cookie", "duskline_" + std::to_string(port_) + "=" + role}, {"X-Duskline", "1"}};
  }
  /// Status and answer of a POST.
  std::pair<int, nlohmann::json> post(const std::string& role, const std::string& what,
                                      const std::string& body) {
    httplib::Client client("127.0.0.1", port_);
    const auto reply = client.Post(("/api/" + what).c_str(), as(role), body, "application/json");
    if (!reply) return {0, nlohmann::json()};
    return {reply->status, nlohmann::json::parse(reply->body, nullptr, false)};
  }
  int status(const std::string& role, const std::string& what, const std::string& body) {
    return post(role, what, body).first;
  }
  std::string get(const std::string& role, const std::string& path) {
    httplib::Client client("127.0.0.1", port_);
    client.set_read_timeout(
        std::chrono::minutes(5));  // a debrief runs the session again, slowly under sanitizers
    const auto reply = client.Get(path.c_str(), as(role));
    return reply ? reply->body : "";
  }
  /// The first event of a kind in the stream.
  nlohmann::json first(const std::string& role, const std::string& kind, const std::string& view = "") {
    httplib::Client client("127.0.0.1", port_);
    std::string seen;
    nlohmann::json found;
    client.Get(("/api/stream" + view).c_str(), as(role), [&](const char* bytes, std::size_t size) {
      seen.append(bytes, size);
      const std::string mark = "event: " + kind + "\ndata: ";
      const std::size_t at = seen.find(mark), end = seen.find("\n\n", at);
      if (at == seen.npos || end == seen.npos) return true;
      found = nlohmann::json::parse(seen.substr(at + mark.size(), end - at - mark.size()));
      return false;
    });
    return found;
  }

 private:
  harness::TrainingSession session_;
  harness::ConsoleServer server_;
  std::thread thread_;
  int port_ = 0;
};

}  // namespace duskline::tests
