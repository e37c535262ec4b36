#include "hil-harness/train/console_server.hpp"

#include <fmt/format.h>
#include <httplib.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <chrono>
#include <cmath>
#include <thread>
#include <utility>

#include "hil-harness/train/debrief.hpp"
#include "hil-harness/train/page_files.hpp"

namespace duskline::harness {
namespace {

constexpr std::size_t kBodyMax = 64U << 10U;
constexpr std::size_t kThreads = kWatchersMax + 8;
constexpr int kPing = 2000;  ///< ms
constexpr std::size_t kPointsMax = 2000;

void answer(httplib::Response& response, int status, const std::string& body,
            const char* type = "application/json") {
  response.status = status;
  response.set_content(body, type);
}

void refuse(httplib::Response& response, int status, const std::string& why) {
  answer(response, status, fmt::format(R"({{"message":"{}"}})", why));
}

/// Takes as long for a wrong key as for a right one.
bool same_key(const std::string& a, const std::string& b) {
  unsigned different = a.size() == b.size() ? 0U : 1U;
  for (std::size_t i = 0; i < a.size(); ++i)
    different |= static_cast<unsigned>(static_cast<unsigned char>(a[i]) ^
                                       static_cast<unsigned char>(b[b.empty() ? 0 : i % b.size()]));
  return different == 0;
}

std::string cookie(const httplib::Request& request, const std::string& name) {
  const std::string all = "; " + request.get_header_value("Cookie");
  const std::string mark = "; " + name + "=";
  const std::size_t at = all.find(mark);
  if (at == all.npos) return {};
  const std::size_t begin = at + mark.size();
  return all.substr(begin, std::min(all.find(';', begin), all.size()) - begin);
}

double number_in(const httplib::Request& request, const char* name, double otherwise) {
  const std::string text = request.get_param_value(name);
  double value = otherwise;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  const bool whole = error == std::errc{} && end == text.data() + text.size();
  return whole && std::isfinite(value) ? value : otherwise;
}

}  // namespace

struct ConsoleServer::Impl {
  Impl(TrainingSession& s, ServerSettings with) : session(s), settings(std::move(with)) {}

  bool our_host(const httplib::Request& request) const {
    const std::string host = request.get_header_value("Host");
    if (settings.address == "0.0.0.0" || settings.address == "::") return !host.empty();
    return std::any_of(hosts.begin(), hosts.end(), [&](const std::string& one) { return one == host; });
  }

  /// The role of a request; false: it has none.
  bool role_of(const httplib::Request& request, PersonRole& role) const {
    const std::string given = cookie(request, cookie_name);
    if (settings.keys.empty()) {
      if (!read_role(given, role)) role = PersonRole::operate;
      return true;
    }
    bool known = false;
    for (const AccessKey& key : settings.keys)
      if (same_key(given, key.key)) {
        role = key.role;
        known = true;
      }
    return known;
  }

  /// Whose view is asked for: with `view=trainee` an instructor gets what trainees get, as late as they get it.
  PersonRole view_of(const httplib::Request& request) const {
    PersonRole role{};
    role_of(request, role);
    const bool theirs = role == PersonRole::instruct && request.get_param_value("view") == "trainee";
    return theirs ? PersonRole::operate : role;
  }

  /// `/?key=K` and `/?role=R`: a cookie, and the address without them.
  void admit(const httplib::Request& request, httplib::Response& response) const {
    const bool by_key = !settings.keys.empty();
    const std::string given = request.get_param_value(by_key ? "key" : "role");
    PersonRole role{};
    bool known = !by_key && read_role(given, role);
    for (const AccessKey& key : settings.keys) known = known || same_key(given, key.key);
    if (!known)
      return refuse(response, by_key ? 401 : 422, by_key ? "the key is wrong" : "there is no such role");
    response.set_header("Set-Cookie",
                        fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict", cookie_name, given));
    response.set_redirect("/", 303);
  }

  httplib::Server::HandlerResponse before(const httplib::Request& request, httplib::Response& response) {
    using Done = httplib::Server::HandlerResponse;
    for (const auto& [name, value] :
         {std::pair{"Content-Security-Policy",
                    "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"},
          std::pair{"X-Content-Type-Options", "nosniff"}, std::pair{"Referrer-Policy", "no-referrer"},
          std::pair{"Cache-Control", "no-store"}})
      response.set_header(name, value);
    if (!our_host(request))
      return refuse(response, 403, "this is not the address of the console"), Done::Handled;
    const std::string origin = request.get_header_value("Origin");
    const std::string host = request.get_header_value("Host");
    if (!origin.empty() && origin != "http://" + host && origin != "https://" + host)  // behind a proxy
      return refuse(response, 403, "the request comes from another site"), Done::Handled;
    if (request.method != "GET" && request.method != "POST")
      return refuse(response, 405, "only GET and POST are known"), Done::Handled;
    if (request.path == "/" && (request.has_param("key") || request.has_param("role")))
      return admit(request, response), Done::Handled;
    PersonRole role{};
    if (!role_of(request, role)) return refuse(response, 401, "an access key is needed"), Done::Handled;
    // the cookie is one for all windows of a browser: a page that was made for another role loads itself anew
    const std::string page = request.has_header("X-Duskline-Role")
                                 ? request.get_header_value("X-Duskline-Role")
                                 : request.get_param_value("as");
    if (!page.empty() && page != role_word(role))
      return refuse(response, 412, fmt::format("this browser is {} now", role_word(role))), Done::Handled;
    if (request.method == "GET") return Done::Unhandled;
    if (!request.has_header("Content-Length"))
      return refuse(response, 411, "the length is missing"), Done::Handled;
    if (!request.get_header_value("Content-Type").starts_with("application/json"))
      return refuse(response, 415, "the body is not application/json"), Done::Handled;
    if (request.get_header_value("X-Duskline") != "1")
      return refuse(response, 403, "the header X-Duskline is missing"), Done::Handled;
    return Done::Unhandled;
  }

  void stream(const httplib::Request& request, httplib::Response& response) {
    const PersonRole role = view_of(request);
    const auto watcher = session.join(role, request.get_header_value("Last-Event-ID"));
    if (watcher == nullptr) return refuse(response, 503, "too many readers");
    response.set_chunked_content_provider(
        "text/event-stream",
        [this, watcher](std::size_t, httplib::DataSink& sink) {
          const auto text = watcher->next(kPing);
          static const std::string kNothing = ": ping\n\n";
          const std::string& send = text == nullptr ? kNothing : *text;
          if (!sink.write(send.data(), send.size())) return false;
          if (!stopping && !watcher->over()) return true;
          sink.done();
          return true;
        },
        [this, role, watcher](bool) { session.leave(role, watcher); });
  }

  void routes() {
    server.set_pre_routing_handler([this](const auto& q, auto& r) { return before(q, r); });
    server.set_exception_handler(
        [](const auto&, auto& r, const auto&) { refuse(r, 500, "the server failed"); });
    server.set_error_handler([](const httplib::Request&, httplib::Response& r) {
      if (!r.body.empty()) return;
      refuse(r, r.status,
             r.status == 413   ? "the body is too large"
             : r.status == 404 ? "there is no such page"
                               : "refused");
    });
    for (const PageFile& file : page_files())
      server.Get(std::string(file.path), [&file](const auto&, httplib::Response& r) {
        r.set_content(file.bytes.data(), file.bytes.size(), std::string(file.type).c_str());
      });
    const auto get = [this](const char* path, auto&& make) {
      server.Get(path,
                 [this, make](const httplib::Request& q, httplib::Response& r) { make(view_of(q), q, r); });
    };
    get("/api/plant",
        [this](PersonRole role, const auto&, auto& r) { answer(r, 200, session.plant_text(role)); });
    get("/api/history", [this](PersonRole role, const auto& q, auto& r) {
      const double points = std::clamp(number_in(q, "points", 600.0), 1.0, static_cast<double>(kPointsMax));
      const SessionReply reply =
          session.history(role, q.get_param_value("signals"), number_in(q, "from", 0.0),
                          number_in(q, "to", 1e12), static_cast<std::size_t>(points));
      answer(r, reply.status, reply.body);
    });
    get("/api/acts", [this](PersonRole role, const auto&, auto& r) {
      if (!may_look_back(role)) return refuse(r, 403, "the session is not finished");
      answer(r, 200, session.acts_text(), "application/yaml");
    });
    get("/api/trace.csv", [this](PersonRole role, const auto&, auto& r) {
      answer(r, 200, session.trace_csv(role), "text/csv");
    });
    get("/api/debrief", [this](PersonRole role, const auto&, auto& r) {
      if (!may_look_back(role)) return refuse(r, 403, "the session is not finished");
      // the page of a debrief holds its own style and script
      r.headers.erase("Content-Security-Policy");  // of two, a browser obeys both
      r.set_header("Content-Security-Policy",
                   "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src "
                   "data:; sandbox allow-scripts");
      std::string problem;
      const std::string page = debrief_page(session.plant_case(), session.record(), problem);
      if (page.empty()) return refuse(r, 500, "the debrief cannot be made");
      answer(r, 200, page, "text/html; charset=utf-8");
    });
    server.Get("/api/stream", [this](const auto& q, auto& r) { stream(q, r); });
    server.Post(R"(/api/([a-z]+))", [this](const httplib::Request& q, httplib::Response& r) {
      PersonRole role{};
      role_of(q, role);
      const SessionReply reply = session.request(role, q.matches[1].str(), q.body);
      answer(r, reply.status, reply.body);
    });
  }

  bool may_look_back(PersonRole role) { return role == PersonRole::instruct || session.finished(); }

  TrainingSession& session;
  ServerSettings settings;
  std::vector<std::string> hosts;
  std::string cookie_name;
  std::atomic<bool> stopping = false, serving = false;
  httplib::Server server;
};

ConsoleServer::ConsoleServer(TrainingSession& session, ServerSettings settings)
    : impl_(std::make_unique<Impl>(session, std::move(settings))) {
  httplib::Server& server = impl_->server;
  server.new_task_queue = [] { return new httplib::ThreadPool(kThreads); };
  server.set_payload_max_length(kBodyMax);
  server.set_keep_alive_timeout(1);
  server.set_read_timeout(5);
  server.set_write_timeout(5);
  server.set_tcp_nodelay(true);
  // not the default, with which a second server could take the same port and get half of the requests
  server.set_socket_options([](int socket) {
    const int yes = 1;
    setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  });
  impl_->routes();
}

ConsoleServer::~ConsoleServer() = default;

int ConsoleServer::bind() {
  Impl& m = *impl_;
  const std::string& address = m.settings.address;
  const int port = m.settings.port == 0                              ? m.server.bind_to_any_port(address)
                   : m.server.bind_to_port(address, m.settings.port) ? m.settings.port
                                                                     : -1;
  if (port <= 0) return 0;
  const bool loopback = address == "127.0.0.1" || address == "::1" || address == "localhost";
  for (const std::string& host :
       {address, std::string(loopback ? "localhost" : ""), std::string(loopback ? "127.0.0.1" : "")})
    if (!host.empty()) m.hosts.push_back(fmt::format("{}:{}", in_url(host), port));
  m.cookie_name = fmt::format("duskline_{}", port);
  return port;
}

void ConsoleServer::serve() {
  Impl& m = *impl_;
  m.serving = true;
  if (!m.stopping) m.server.listen_after_bind();
  m.serving = false;
}

void ConsoleServer::stop() {
  Impl& m = *impl_;
  m.stopping = true;
  m.session.stop();
  // a server that is about to listen knows of no stop before it does
  while (m.serving) {
    m.server.stop();
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
}

std::string in_url(const std::string& address) {
  return address.find(':') == address.npos ? address : "[" + address + "]";
}

scenarios::Result<std::vector<AccessKey>> read_keys(const std::string& path) {
  constexpr std::size_t kShortest = 16;
  scenarios::Result<std::vector<AccessKey>> result;
  std::ifstream file(path);
  if (!file) {
    result.problems.push_back({path, 1, 1, "", "cannot be opened"});
    return result;
  }
  std::vector<AccessKey> keys;
  int number = 0;
  for (std::string line; std::getline(file, line);) {
    ++number;
    if (line.empty() || line[0] == '#') continue;
    const std::size_t blank = line.find(' ');
    AccessKey key;
    const std::string role = line.substr(0, blank);
    if (!read_role(role, key.role))
      result.problems.push_back({path, number, 1, "", "expected operator | instructor | observer and a key"});
    key.key = blank == line.npos ? "" : line.substr(blank + 1);
    const bool plain =
        std::all_of(key.key.begin(), key.key.end(), [](unsigned char c) { return std::isalnum(c) != 0; });
    if (key.key.size() < kShortest || !plain)
      result.problems.push_back({path, number, static_cast<int>(std::min(blank, line.size())) + 2, "",
                                 fmt::format("a key has {} letters and digits or more", kShortest)});
    keys.push_back(std::move(key));
  }
  if (keys.empty()) result.problems.push_back({path, 1, 1, "", "holds no key"});
  if (result.problems.empty()) result.value = std::move(keys);
  return result;
}

}  // namespace duskline::harness
