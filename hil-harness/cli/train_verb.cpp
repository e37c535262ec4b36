#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <thread>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/train/console_server.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

int refuse(const std::vector<scenarios::Problem>& problems) {
  print_error(scenarios::to_text(problems));
  return kBadInput;
}

scenarios::Problem option_problem(const char* option, const std::string& value, std::string message) {
  return {option, 1, 1, value, std::move(message)};
}

}  // namespace

int train_verb(const TrainRequest& request) {
  const fs::path home = home_folder();
  auto settings = request.settings;
  const std::string file = scenario_file(request.scenario);
  auto read = scenarios::read_case(file, home / "plant-model" / "plants", settings, requirement_lists());
  if (!read) return refuse(read.problems);
  scenarios::ConsoleFile console;
  const plant::PlantForm& form = read.value->plant.parameters.form;
  const fs::path shown =
      scenarios::console_path(home / "scenarios" / "consoles", read.value->plant.name, form);
  std::error_code error;
  if (fs::exists(shown, error)) {
    auto made = scenarios::read_console(shown, requirement_lists().of(form));
    if (!made) return refuse(made.problems);
    console = std::move(*made.value);
  }
  const Surroundings around = surroundings(*read.value);
  for (const auto& problem : around.problems) print_error(problem + "\n");
  if (!around.problems.empty()) return kBadInput;

  ServerSettings server_settings;
  server_settings.port = static_cast<int>(std::min<std::uint64_t>(request.port, 65536));
  if (request.port > 65535)
    return refuse({option_problem("--port", std::to_string(request.port), "is no port")});
  if (!request.keys.empty()) {
    auto keys = read_keys(request.keys);
    if (!keys) return refuse(keys.problems);
    server_settings.keys = std::move(*keys.value);
  }
  if (!request.listen.empty()) {
    if (server_settings.keys.empty())
      return refuse({option_problem("--listen", request.listen,
                                    "needs --keys: only this machine may come in without")});
    server_settings.address = request.listen;
  }
  double speed = 1.0;
  if (!request.speed.empty()) {
    char* end = nullptr;
    speed = std::strtod(request.speed.c_str(), &end);
    if (*end != '\0' || !(speed >= kTrainingSpeedMin && speed <= kTrainingSpeedMax))
      return refuse(
          {option_problem("--speed", request.speed,
                          fmt::format("is no number from {} to {}", kTrainingSpeedMin, kTrainingSpeedMax))});
  }
  if (request.check) return print_text(request.quiet ? "" : "nothing is wrong\n");

  TrainingSession session(std::move(*read.value), std::move(console), fs::path(file).stem().string(), speed);
  ConsoleServer server(session, server_settings);
  const int port = server.bind();  // before the session is opened: a port in use leaves no file behind
  if (port == 0)
    return refuse(
        {option_problem("--port", fmt::format("{}:{}", in_url(server_settings.address), request.port),
                        "cannot be listened on; another program may use it")});
  if (const std::string problem = session.open(request.session); !problem.empty())
    return refuse({option_problem("--session", request.session, problem)});
  listen_for_stop();
  session.start();
  if (!request.quiet) {
    const std::string address = fmt::format("http://{}:{}/", in_url(server_settings.address), port);
    print(server_settings.keys.empty() ? fmt::format("operator    {0}?role=operator\ninstructor  "
                                                     "{0}?role=instructor\nobserver    {0}?role=observer\n",
                                                     address)
                                       : fmt::format("open        {}?key=KEY\n", address));
    print("The session is frozen until the instructor lets it go. Ctrl-C ends it.\n");
  }
  std::thread stopper([&server] {
    while (!stop_wanted()) std::this_thread::sleep_for(std::chrono::milliseconds(100));
    server.stop();
  });
  server.serve();
  stopper.join();
  return kSuccess;
}

}  // namespace duskline::harness
