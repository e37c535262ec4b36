/// A folder of short scenarios for the tests of `duskline verify`.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "tests/support/child.hpp"

namespace duskline::tests {

/// A few minutes of production with these requirements; `more` stands before them.
inline std::string scenario(const std::string& requirements, const std::string& more = "") {
  return "format: duskline-scenario/1\ntitle: A few minutes\nplant: bench\nduration: 8 min\nrecord: 10 s\n"
         "initial: {state: producing, cathode_co: 65 %}\n"
         "commands:\n  - {at: 0 s, mode: production, demand: 10 g/h}\n" +
         more + "requirements:\n" + requirements;
}
inline const std::string kGood =
    "  - {name: margin, must: \"always (coke_margin > 10 mV)\"}\n"
    "  - {name: \"at <dusk> & \\\"late\\\"\", must: \"after sunset: coke_margin > 20 mV\"}\n";
inline const std::string kBad = "  - {name: too much, must: \"always (coke_margin > 500 mV)\"}\n";

struct Library {
  Folder folder{"verify"};
  explicit Library(bool with_failure) {
    std::filesystem::create_directories(folder.file("all/below"));
    put("all/good.yaml", scenario(kGood));
    if (with_failure) put("all/below/bad.yaml", scenario(kGood + kBad));
  }
  void put(const std::string& name, const std::string& text) const {
    std::ofstream{folder.file(name)} << text;
  }
  Child verify(std::vector<std::string> more) const {
    std::vector<std::string> words{folder.file("all"), "--out", folder.file("kept")};
    words.insert(words.end(), more.begin(), more.end());
    return verify_only(words);
  }
  /// With no other words, in the folder itself.
  Child verify_only(std::vector<std::string> words, ChildOptions options = {}) const {
    words.insert(words.begin(), "verify");
    if (options.folder.empty()) options.folder = folder.path();
    return run_duskline(words, options);
  }
  std::string accepted() const { return bytes_of(folder.file("accepted/accepted.json")); }
};

}  // namespace duskline::tests
