#include "hil-harness/cli/command_line.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "scenarios/reader/suggest.hpp"

namespace duskline::harness {
namespace {

/// Reads the words one by one, and goes on after a problem.
class Words {
 public:
  Words(const std::vector<std::string>& words, CommandLine& line) : words_(words), line_(line) {
    std::size_t column = std::string{"duskline "}.size() + 1;
    for (const std::string& word : words) {
      columns_.push_back(column);
      column += word.size() + 1;
    }
    end_ = column - 1;
  }

  std::vector<scenarios::Problem> read() {
    if (words_.empty()) {
      add(end_, "VERB", fmt::format("is missing; expected {}", fmt::join(verb_names(), " | ")));
      return found_;
    }
    const bool is_verb = !words_[0].starts_with('-');
    if (is_verb && !find_verb()) return found_;
    for (std::size_t i = is_verb ? 1 : 0; i < words_.size(); ++i) {
      const std::string& word = words_[i];
      if (word == kHelpOption || word == "-h")
        line_.help = true;
      else if (word == kVersionOption && !is_verb)
        line_.version = true;
      else if (word.size() > 1 && word[0] == '-')
        i += option(i);
      else
        by_place(i);
    }
    if (is_verb && !line_.help) {
      missing();
      together();
    }
    line_.perform = arguments_.perform;
    return found_;
  }

 private:
  void add(std::size_t column, const std::string& path, std::string message) {
    found_.push_back({"command line", 1, static_cast<int>(column), path, std::move(message)});
  }

  bool find_verb() {
    for (const Verb& verb : verb_table())
      if (verb.name == words_[0]) {
        line_.verb = &verb;
        arguments_ = verb.declare();
        given_.assign(arguments_.options.size(), 0);
        return true;
      }
    const std::vector<std::string> names = verb_names();
    std::string hint = scenarios::did_you_mean(words_[0], names);
    if (hint.empty()) hint = fmt::format("; expected {}", fmt::join(names, " | "));
    add(columns_[0], words_[0], "unknown verb" + hint);
    return false;
  }

  Option* find(const std::string& name) {
    for (Option& o : arguments_.options)
      if (o.name == name) return &o;
    return nullptr;
  }
  std::size_t& times(const Option& o) {
    return given_[static_cast<std::size_t>(&o - arguments_.options.data())];
  }

  void take(const Option& o, std::size_t column, const std::string& value) {
    if (value.empty() && o.value != "LAW" && o.value != "TEXT")
      return add(column, o.name, fmt::format("is empty ({})", o.value.empty() ? o.name : o.value));
    if (o.name == "--set") line_.settings.push_back(value);
    if (o.name == "SCENARIO") line_.scenario = value;
    if (std::string error = o.take(value); !error.empty()) add(column, o.name, std::move(error));
  }

  /// The option at word `i`; gives the number of words that it takes besides its own.
  std::size_t option(std::size_t i) {
    const std::string& word = words_[i];
    const std::size_t equals = word.find('=');
    const std::string name = word.substr(0, equals);
    Option* const o = find(name);
    if (o == nullptr) {
      std::vector<std::string> known{std::string{kHelpOption}};
      if (line_.verb == nullptr) known.emplace_back(kVersionOption);
      for (const Option& one : arguments_.options)
        if (!one.by_place()) known.push_back(one.name);
      add(columns_[i], name, "unknown option" + scenarios::did_you_mean(name, known));
      unknown_ = true;
      return 0;
    }
    if (times(*o)++ > 0 && !o->repeats) add(columns_[i], name, "is given twice");
    if (o->value.empty()) {
      if (equals != std::string::npos)
        add(columns_[i], name, "takes no value");
      else
        o->take("");
      return 0;
    }
    if (equals != std::string::npos) {
      take(*o, columns_[i] + equals + 1, word.substr(equals + 1));
      return 0;
    }
    const bool last = i + 1 == words_.size();
    if (last || (words_[i + 1].size() > 1 && words_[i + 1][0] == '-' && is_option(words_[i + 1]))) {
      add(columns_[i] + word.size(), name, fmt::format("needs a value ({})", o->value));
      return 0;
    }
    take(*o, columns_[i + 1], words_[i + 1]);
    return 1;
  }

  bool is_option(const std::string& word) {
    return word == kHelpOption || word == "-h" || find(word.substr(0, word.find('='))) != nullptr;
  }

  void by_place(std::size_t i) {
    for (Option& o : arguments_.options) {
      if (!o.by_place() || (times(o) > 0 && !o.repeats)) continue;
      ++times(o);
      return take(o, columns_[i], words_[i]);
    }
    // behind an unknown option it is more likely the value of that option
    if (!unknown_) add(columns_[i], words_[i], "unexpected argument; words with blanks need quotes");
  }

  void missing() {
    for (const Option& o : arguments_.options)
      if (o.required && times(o) == 0)
        add(end_, o.name,
            fmt::format("is missing ({}); 'duskline {} --help' shows an example", o.meaning,
                        line_.verb->name));
  }

  /// Options that exclude or need each other.
  void together() {
    for (const Option& o : arguments_.options) {
      if (times(o) == 0) continue;
      for (const std::string& other : o.excludes)
        if (times(*find(other)) > 0)
          add(end_, o.name, fmt::format("cannot be given together with {}", other));
      if (!o.needs.empty() && times(*find(o.needs)) == 0) add(end_, o.name, fmt::format("needs {}", o.needs));
    }
  }

  const std::vector<std::string>& words_;
  CommandLine& line_;
  Arguments arguments_;
  std::vector<std::size_t> given_;  ///< how often each option was given
  std::vector<std::size_t> columns_;
  std::size_t end_{};
  bool unknown_ = false;
  std::vector<scenarios::Problem> found_;
};

}  // namespace

std::vector<scenarios::Problem> read_words(const std::vector<std::string>& words, CommandLine& line) {
  return Words(words, line).read();
}

std::string_view version() {
  return DUSKLINE_VERSION;
}

std::vector<std::string> verb_names() {
  std::vector<std::string> names;
  for (const Verb& verb : verb_table()) names.emplace_back(verb.name);
  return names;
}

}  // namespace duskline::harness
