/// What the controller needs of a machine: memory, code, stack and instructions, measured.
///
/// What it is   code and stack from the objects for Cortex-M4F, instructions by running recorded ticks one at
///              a time
/// Equation     stack = deepest sum of frames over the call graph; instructions = those between call and
///              return
/// Symbols      bytes; instructions a tick
/// Validity     stack: exact as long as there is no recursion, no indirect call and no frame of open size,
///              which is checked. Instructions: measured over the ticks recorded, no proof for all others
/// Source       GCC manual, -fcallgraph-info; ptrace(2); qemu-arm in user mode, one instruction a block
/// Left out     cycles: flash wait states and pipeline belong to the board; frames of memcpy and memset
#pragma once

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "controller/memory.hpp"
#include "tests/support/toolchain.hpp"

namespace duskline::test {

/// The limits that the page states and the test holds.
struct FootprintLimits {
  std::size_t memory = CTL_STATE_BYTES - 8;
  std::size_t code = 144 * 1024;
  std::size_t stack = 12288;
  std::uint64_t instructions = 1000000;  // a tick, on either machine
};

inline const std::string kBoard = "-mcpu=cortex-m4 -mthumb -mfloat-abi=hard -mfpu=fpv4-sp-d16";
inline const std::string kFreestanding =
    " -std=c++20 -ffp-contract=off -ffreestanding -fno-math-errno -fno-exceptions -fno-rtti "
    "-fno-threadsafe-statics"
    " -I " DUSKLINE_SOURCE_DIR " ";

struct Objects {
  std::string joined;                    ///< path
  std::vector<std::string> call_graphs;  ///< paths
  std::string error;
};

/// All sources of the controller for the board, joined into one object.
inline Objects board_objects(const Scratch& scratch, const std::string& optimise) {
  Objects result;
  std::string objects;
  int count = 0;
  for (const std::string& source : controller_sources()) {
    const std::string stem = scratch.file("board" + optimise + std::to_string(count++));
    const Ran ran = run_command("arm-none-eabi-g++" + kFreestanding + kBoard + " " + optimise +
                                " -fcallgraph-info=su -c " + source + " -o " + stem + ".o");
    if (ran.status != 0) result.error += ran.text;
    objects += " " + stem + ".o";
    result.call_graphs.push_back(stem + ".ci");
  }
  result.joined = scratch.file("joined" + optimise + ".o");
  const Ran ran = run_command("arm-none-eabi-ld -r" + objects + " -o " + result.joined);
  if (ran.status != 0) result.error += ran.text;
  return result;
}

/// Code and constants, bytes.
inline std::size_t code_size(const Objects& objects) {
  std::istringstream lines(run_command("arm-none-eabi-size " + objects.joined).text);
  std::string head;
  std::getline(lines, head);
  std::size_t text = 0;
  lines >> text;
  return text;
}

/// Symbols that somebody else has to bring.
inline std::set<std::string> needed_symbols(const Objects& objects) {
  std::istringstream words(run_command("arm-none-eabi-nm -u " + objects.joined).text);
  std::set<std::string> names;
  for (std::string word; words >> word;)
    if (word != "U") names.insert(word);
  return names;
}

struct Stack {
  std::size_t bytes = 0;
  std::vector<std::pair<std::string, std::size_t>> chain;  ///< function and frame, from the entry down
  std::string error;  ///< recursion, a frame of open size, an indirect call
};

/// The call graph that the compiler wrote: nodes with frames, edges.
class CallGraph {
 public:
  explicit CallGraph(const std::vector<std::string>& files) {
    for (const std::string& file : files) {
      std::ifstream in(file);
      for (std::string line; std::getline(in, line);) read(line);
    }
  }

  Stack deepest(const std::string& entry) {
    Stack stack;
    stack.error = error_;
    if (frames_.count(entry) == 0) {
      stack.error += "no function " + entry;
      return stack;
    }
    stack.bytes = depth(entry, stack.error);
    for (std::string at = entry; !at.empty(); at = next_[at])
      stack.chain.emplace_back(names_[at], frames_[at]);
    return stack;
  }
  std::size_t functions() const { return frames_.size(); }

 private:
  static std::string field(const std::string& line, const std::string& name) {
    const std::size_t at = line.find(name + ": \"");
    if (at == std::string::npos) return {};
    const std::size_t begin = at + name.size() + 3;
    return line.substr(begin, line.find('"', begin) - begin);
  }

  void read(const std::string& line) {
    if (line.starts_with("edge:")) {
      const std::string to = field(line, "targetname");
      if (to == "__indirect_call") error_ += "an indirect call in " + field(line, "sourcename") + "; ";
      calls_[field(line, "sourcename")].insert(to);
    }
    if (!line.starts_with("node:") || line.find("bytes (") == std::string::npos) return;
    const std::string title = field(line, "title"), label = field(line, "label");
    const std::size_t size = label.rfind("\\n");
    frames_[title] = std::stoul(label.substr(size + 2));
    names_[title] = label.substr(0, label.find('('));
    if (label.find("(static)") == std::string::npos) error_ += "a frame of open size in " + title + "; ";
  }

  std::size_t depth(const std::string& at, std::string& error) {
    if (const auto known = depths_.find(at); known != depths_.end()) return known->second;
    if (!open_.insert(at).second) {
      error += "recursion through " + at + "; ";
      return 0;
    }
    std::size_t below = 0;
    next_[at].clear();
    for (const std::string& to : calls_[at]) {
      if (frames_.count(to) == 0) continue;  // memcpy and its like
      const std::size_t d = depth(to, error);
      if (d <= below) continue;
      below = d;
      next_[at] = to;
    }
    open_.erase(at);
    return depths_[at] = frames_[at] + below;
  }

  std::map<std::string, std::size_t> frames_, depths_;
  std::map<std::string, std::string> names_, next_;
  std::map<std::string, std::set<std::string>> calls_;
  std::set<std::string> open_;
  std::string error_;
};

}  // namespace duskline::test
