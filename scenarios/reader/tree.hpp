/// A parsed input before it means anything: texts, lists and maps, each with its place.
///
/// `parse_tree` is the only code that sees the YAML library; it accepts a plain subset of YAML 1.2.
/// Refused with a place: more than 4 MiB, 24 levels or 2000 keys in a map, bytes that are not UTF-8 text,
/// control characters, written or escaped, quotes that are not closed, empty keys, tabs in the indentation, several documents, duplicate keys, merge keys, anchors, aliases, tags, keys that
/// are no text. Source: YAML 1.2.2. Valid for block and flow style, quoted and plain scalars, comments. Left
/// out: types. A scalar stays text until a dictionary says what it should be.
#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/reader/report.hpp"

namespace duskline::scenarios {

constexpr std::size_t kLargestInput = std::size_t{4} << 20U;  // bytes
constexpr int kDeepestInput = 24;                             // levels
constexpr std::size_t kLargestMap = 2000;                     // keys
constexpr std::size_t kMostNodes = 200000;                    // lists and maps; values: twice as many

struct Pair;

struct Node {
  enum class Kind { nothing, text, list, map };

  Kind kind{Kind::nothing};
  Place place;
  std::string text;         ///< of a text
  std::vector<Node> items;  ///< of a list
  std::vector<Pair> pairs;  ///< of a map, in the order of the file, each key once

  const Pair* find(std::string_view key) const;
  Pair* find(std::string_view key);
};

struct Pair {
  std::string key;
  Place place;  ///< of the key
  Node value;
};

/// `a text`, `a list`, ... for messages.
std::string_view name_of(Node::Kind kind);

/// Parses `text` as file number `file` of the report. Nothing when it cannot be made a tree; duplicates and
/// the like are reported but do not prevent one, so that the rest of the text is checked in the same run.
std::optional<Node> parse_tree(std::string_view text, int file, Report& report);

/// A value on the command line, whose first character stands at `start`: YAML when it begins with a bracket,
/// a brace or a quote, else the text as it is.
std::optional<Node> parse_value(std::string_view text, Place start, Report& report);

/// The bytes of a file; a problem at 1:1 when it is missing, unreadable, a folder or too large.
std::optional<std::string> read_bytes(const std::filesystem::path& path, int file, Report& report);

}  // namespace duskline::scenarios
