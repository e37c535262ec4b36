/// Running compilers from a test: a scratch folder, a command with its text, a look for a program.
#pragma once

#include <unistd.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

namespace duskline::test {

struct Ran {
  int status;
  std::string text;
};

/// Runs a command line; standard output and error together.
inline Ran run_command(const std::string& line) {
  Ran ran{-1, {}};
  FILE* pipe = popen((line + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return ran;
  std::array<char, 4096> buffer{};
  for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
    ran.text.append(buffer.data(), n);
  ran.status = pclose(pipe);
  return ran;
}

inline bool has_program(const std::string& name) {
  return run_command("command -v " + name).status == 0;
}

/// A folder of its own, removed at the end of the test.
class Scratch {
 public:
  Scratch() {
    std::string name = (std::filesystem::temp_directory_path() / "duskline-test-XXXXXX").string();
    folder_ = mkdtemp(name.data());
  }
  ~Scratch() {
    std::error_code gone_already;  // a program that ends takes its own files away
    std::filesystem::remove_all(folder_, gone_already);
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  std::string file(const std::string& name) const { return (folder_ / name).string(); }

 private:
  std::filesystem::path folder_;
};

/// Sources of the controller without the start-up code of the targets.
inline std::vector<std::string> controller_sources() {
  namespace fs = std::filesystem;
  std::vector<std::string> sources;
  for (const auto& entry : fs::recursive_directory_iterator(fs::path(DUSKLINE_SOURCE_DIR) / "controller")) {
    const std::string path = entry.path().string();
    if (entry.path().extension() == ".cpp" && path.find("/port/") == std::string::npos)
      sources.push_back(path);
  }
  return sources;
}

}  // namespace duskline::test
