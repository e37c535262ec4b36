/// What is wrong with an input, and where: the only thing that the reader hands back besides a value.
///
/// A problem reads `file:line:column: path: message`; lines and columns count from 1, columns in characters.
/// All problems of an input are reported at once, in the order of the text.
/// Source: the layout of compiler messages, which editors follow to the place.
/// Left out: warnings. An input is right or it is refused.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace duskline::scenarios {

struct Problem {
  std::string file;
  int line{};
  int column{};
  std::string path;  ///< dotted path of the key, such as `commands[1].demand`; may be empty
  std::string message;

  bool operator==(const Problem&) const = default;
};

/// `file:line:column: path: message`.
std::string to_text(const Problem& problem);

/// One problem a line, each line ended.
std::string to_text(const std::vector<Problem>& problems);

/// A value, or the reasons why there is none: never both, never neither.
template <class T>
struct Result {
  std::optional<T> value;
  std::vector<Problem> problems;

  explicit operator bool() const { return value.has_value(); }
};

}  // namespace duskline::scenarios
