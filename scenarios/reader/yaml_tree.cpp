#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <sstream>

#include "scenarios/reader/text.hpp"
#include "scenarios/reader/tree.hpp"

namespace duskline::scenarios {
namespace {

// Thrown out of the parser when going on makes no sense; never leaves this file.
struct Stop {
  Place place;
  std::string message;
};

// Builds the tree from the events of the parser. Aliases are never followed, so none can multiply.
class Builder : public YAML::EventHandler {
 public:
  Builder(std::string_view text, Place start, Report& report) : text_{text}, start_{start}, report_{report} {
    for (std::size_t i = 0; i < text.size(); ++i)
      if (text[i] == '\n') lines_.push_back(i + 1);
  }

  Node take() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark& mark) override {
    if (++documents_ > 1) throw Stop{at(mark), "a second document begins here; a file holds one"};
  }
  void OnDocumentEnd() override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    check(mark, "", anchor);
    put({Node::Kind::nothing, at(mark), {}, {}, {}});
  }

  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    report_.add(at(mark), "", "aliases (*name) are not used here; write the value out");
    put({Node::Kind::nothing, at(mark), {}, {}, {}});
  }

  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    check(mark, tag, anchor);
    check_quotes(mark);
    if (const std::size_t bad = find_control(value, true); bad != value.npos)
      report_.add(at(mark), open_.empty() || !open_.back().has_key ? path() : join(path(), open_.back().key),
                  fmt::format("holds the control character {}", printable(value.substr(bad, 1))));
    put({Node::Kind::text, at(mark), value, {}, {}});
  }

  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    check(mark, tag, anchor);
    begin({Node::Kind::list, at(mark), {}, {}, {}});
  }
  void OnSequenceEnd() override { end(); }

  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    check(mark, tag, anchor);
    begin({Node::Kind::map, at(mark), {}, {}, {}});
  }
  void OnMapEnd() override { end(); }

  Place at(const YAML::Mark& mark) const {
    const int line = mark.line < 0 ? 0 : mark.line;
    const int column =
        characters(static_cast<std::size_t>(line), static_cast<std::size_t>(std::max(mark.column, 0)));
    return {start_.file, start_.line + line, (line == 0 ? start_.column : 1) + column};
  }

 private:
  // An open list or map; of a map the key that waits for its value.
  struct Open {
    Node node;
    bool has_key{};
    std::string key;
    Place key_place;
  };

  // How many characters the first bytes of a line are. Marks rise, so each byte is looked at about once.
  int characters(std::size_t line, std::size_t bytes) const {
    if (line >= lines_.size()) return static_cast<int>(bytes);
    if (line != counted_.line || bytes < counted_.bytes) counted_ = {line, 0, 0};
    const std::string_view rest = text_.substr(lines_[line]);
    bytes = std::min(bytes, rest.size());
    counted_.characters += count_characters(rest.substr(counted_.bytes, bytes - counted_.bytes));
    counted_.bytes = bytes;
    return counted_.characters;
  }

  void check(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor) {
    if (anchor != YAML::NullAnchor)
      report_.add(at(mark), "", "anchors (&name) are not used here; write the value out");
    if (!tag.empty() && tag != "?" && tag != "!") report_.add(at(mark), "", "tags (!name) are not used here");
  }

  // A text in quotes ends with its quote, and the lines in between are indented deeper than the one in which it
  // begins: else a quote was forgotten, and the text holds keys that would be lost without a word.
  void check_quotes(const YAML::Mark& mark) const {
    const std::size_t line = mark.line < 0 ? 0 : static_cast<std::size_t>(mark.line);
    if (line >= lines_.size()) return;
    const auto indent = [&](std::size_t start) {
      std::size_t blanks = 0;
      while (start + blanks < text_.size() && text_[start + blanks] == ' ') ++blanks;
      return blanks;
    };
    const std::size_t own = indent(lines_[line]);
    std::size_t i = lines_[line] + static_cast<std::size_t>(std::max(mark.column, 0));
    if (i >= text_.size() || (text_[i] != '"' && text_[i] != '\'')) return;
    const char quote = text_[i];
    int number = start_.line + static_cast<int>(line);
    for (++i; i < text_.size(); ++i) {
      const bool doubled = quote == '\'' && i + 1 < text_.size() && text_[i + 1] == quote;
      if (quote == '"' ? text_[i] == '\\' && i + 1 < text_.size() && text_[i + 1] != '\n'
                       : text_[i] == quote && doubled) {
        ++i;
      } else if (text_[i] == quote) {
        return;
      } else if (text_[i] == '\n') {
        ++number;
        const std::size_t next = i + 1, blanks = indent(next), first = next + blanks;
        const bool empty = first >= text_.size() || text_[first] == '\n' || text_[first] == '\r';
        if (!empty && blanks <= own && number > 1)
          throw Stop{at(mark), fmt::format("the text that begins with this {} takes in line {}, which is not "
                                           "indented deeper; is the closing quote missing?",
                                           quote, number)};
      }
    }
    throw Stop{at(mark), fmt::format("the closing {} of this text is missing", quote)};
  }

  void begin(Node node) {
    if (++nodes_ > kMostNodes) throw Stop{node.place, fmt::format("holds more than {} items", kMostNodes)};
    if (open_.size() >= static_cast<std::size_t>(kDeepestInput))
      throw Stop{node.place, fmt::format("is nested deeper than {} levels", kDeepestInput)};
    open_.push_back({std::move(node), false, {}, {}});
  }

  void end() {
    Node node = std::move(open_.back().node);
    open_.pop_back();
    put(std::move(node));
  }

  void put(Node node) {
    if (++nodes_ > 2 * kMostNodes)
      throw Stop{node.place, fmt::format("holds more than {} values", 2 * kMostNodes)};
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    Open& top = open_.back();
    if (top.node.kind == Node::Kind::list) {
      top.node.items.push_back(std::move(node));
    } else if (!top.has_key) {
      top.has_key = true;
      top.key_place = node.place;
      if (node.kind != Node::Kind::text) {
        report_.add(node.place, path(), fmt::format("a key is a text, not {}", name_of(node.kind)));
        top.key.clear();
      } else {
        top.key = std::move(node.text);
        if (top.key.empty()) report_.add(node.place, path(), "a key is empty");
        if (top.key.find('\n') != top.key.npos) report_.add(node.place, path(), "a key is one line");
      }
    } else {
      top.has_key = false;
      add_pair(top, std::move(node));
    }
  }

  void add_pair(Open& top, Node node) {
    if (top.key == "<<") {
      report_.add(top.key_place, path(), "merge keys (<<) are not used here; write the keys out");
      return;
    }
    if (top.key.empty()) return;
    if (const Pair* first = top.node.find(top.key)) {
      report_.add(top.key_place, join(path(), top.key),
                  fmt::format("is given twice (first at {})", report_.also_at(top.key_place, first->place)));
      return;
    }
    if (node.kind == Node::Kind::nothing) node.place = top.key_place;  // else that of whatever comes next
    if (top.node.pairs.size() >= kLargestMap)
      throw Stop{top.key_place, fmt::format("is key number {} of its map; at most {} are read",
                                            kLargestMap + 1, kLargestMap)};
    top.node.pairs.push_back({top.key, top.key_place, std::move(node)});
  }

  static std::string join(const std::string& path, const std::string& key) {
    return path.empty() ? key : path + "." + key;
  }

  // The dotted path of the innermost open node.
  std::string path() const {
    std::string text;
    for (std::size_t i = 0; i + 1 < open_.size(); ++i) {
      const Open& open = open_[i];
      if (open.node.kind == Node::Kind::list)
        text += fmt::format("[{}]", open.node.items.size() + 1);
      else if (open.has_key)
        text = join(text, open.key);
    }
    return text;
  }

  std::string_view text_;
  std::vector<std::size_t> lines_{0};  // where each begins
  struct Counted {
    std::size_t line, bytes;
    int characters;
  };
  mutable Counted counted_{};
  Place start_;
  Report& report_;
  Node root_;
  std::size_t nodes_{};
  std::vector<Open> open_;
  int documents_{};
};

// Reports what no YAML file should hold and the library would take or trip over; false stops the reading.
bool check_bytes(std::string_view text, Place start, Report& report) {
  int line = 0, tabs = 0;
  std::size_t line_start = 0;
  bool indenting = true;
  const auto place = [&](std::size_t at) {
    return Place{start.file, start.line + line,
                 (line == 0 ? start.column : 1) + count_characters(text.substr(line_start, at - line_start))};
  };
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = utf8_length(text, at);
    if (length == 0) {
      report.add(place(at), "", "is not UTF-8 text");
      return false;
    }
    const char c = text[at];
    const bool control = static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
    if (control && c != '\n' && c != '\r' && c != '\t') {
      report.add(place(at), "",
                 fmt::format("holds the control character 0x{:02x}; this is not a text file",
                             static_cast<unsigned>(c)));
      return false;
    }
    if (c == '\t' && indenting && tabs++ == 0)
      report.add(place(at), "", "a tab is used as indentation; use spaces");
    indenting = (indenting && c == ' ') || c == '\n';
    at += length;
    if (c == '\n') {
      ++line;
      line_start = at;
    }
  }
  return tabs == 0;
}

std::string plain_words(const std::string& message) {
  if (message == "illegal map value") return "a ': ' does not belong here; is the line correctly indented?";
  if (message == "end of map not found")
    return "this key stands at an indentation that does not fit the lines above";
  if (message == "end of sequence not found")
    return "this item stands at an indentation that does not fit the list above";
  if (message == "end of map flow not found")
    return "the '}' of a map is missing, or a text with [ ] { } in it needs quotes";
  if (message == "end of sequence flow not found")
    return "the ']' of a list is missing, or a text with [ ] { } in it needs quotes";
  return "cannot be read as YAML: " + message;
}

std::optional<Node> parse(std::string_view text, Place start, Report& report) {
  if (text.size() > kLargestInput) {
    report.add(start, "", fmt::format("is larger than {} MiB", kLargestInput >> 20U));
    return std::nullopt;
  }
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  if (!check_bytes(text, start, report)) return std::nullopt;
  std::istringstream stream{std::string{text}};
  Builder builder{text, start, report};
  try {
    YAML::Parser parser{stream};
    while (parser.HandleNextDocument(builder)) {
    }
  } catch (const Stop& stop) {
    report.add(stop.place, "", stop.message);
    return std::nullopt;
  } catch (const YAML::Exception& error) {
    report.add(builder.at(error.mark), "", plain_words(error.msg));
    return std::nullopt;
  }
  return builder.take();
}

}  // namespace

std::optional<Node> parse_tree(std::string_view text, int file, Report& report) {
  auto root = parse(text, {file, 1, 1}, report);
  if (root && root->kind == Node::Kind::nothing) {
    report.add({file, 1, 1}, "", "is empty");
    return std::nullopt;
  }
  if (root && root->kind != Node::Kind::map) {
    report.add(root->place, "",
               fmt::format("expected keys with values (a map), found {}", name_of(root->kind)));
    return std::nullopt;
  }
  return root;
}

std::optional<Node> parse_value(std::string_view text, Place start, Report& report) {
  const std::size_t first = text.find_first_not_of(' ');
  if (first == text.npos) return Node{Node::Kind::nothing, start, {}, {}, {}};
  if (std::string_view{"[{\"'"}.find(text[first]) == std::string_view::npos) {
    if (!check_bytes(text, start, report)) return std::nullopt;
    start.column += static_cast<int>(first);
    return Node{Node::Kind::text, start, std::string{text.substr(first)}, {}, {}};
  }
  return parse(text, start, report);
}

}  // namespace duskline::scenarios
