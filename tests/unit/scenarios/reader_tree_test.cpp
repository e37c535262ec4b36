// The subset of YAML that is read, the places that are kept, and every kind of text that is refused.
#include <catch2/catch.hpp>
#include <string>

#include "scenarios/reader/change.hpp"
#include "scenarios/reader/tree.hpp"

using namespace duskline::scenarios;

namespace {

struct Parsed {
  std::optional<Node> root;
  std::string problems;
};

Parsed parse(std::string_view text) {
  Report report;
  const int file = report.open("f");
  auto root = parse_tree(text, file, report);
  return {std::move(root), to_text(report.problems())};
}

// Changes the tree of `text` by settings and gives what was wrong.
std::string change(Node& root, std::string_view setting) {
  Report report;
  const int file = report.open("--set");
  const auto parsed = parse_setting(setting, file, 1, report);
  if (parsed) apply(*parsed, 0, root, report);
  return to_text(report.problems());
}

}  // namespace

TEST_CASE("A tree keeps texts and places") {
  const Parsed parsed = parse("a: 1 bar\nb:\n  c: [x, 'y z']\n  d: {e: \"q\"}\n");
  REQUIRE(parsed.root);
  CHECK(parsed.problems.empty());
  const Node& root = *parsed.root;
  CHECK(root.find("a")->value.text == "1 bar");
  CHECK(root.find("a")->value.place == Place{0, 1, 4});
  const Node& b = root.find("b")->value;
  CHECK(root.find("b")->place == Place{0, 2, 1});
  CHECK(b.find("c")->value.items[1].text == "y z");
  CHECK(b.find("c")->value.items[1].place == Place{0, 3, 10});
  CHECK(b.find("d")->value.find("e")->place == Place{0, 4, 7});
  CHECK(root.find("z") == nullptr);
}

TEST_CASE("A key without a value has the place of the key and columns count characters") {
  const Parsed parsed = parse("a: 1\nb:\n\n\nc: 2\n");
  REQUIRE(parsed.root);
  CHECK(parsed.root->find("b")->value.place == Place{0, 2, 1});
  CHECK(parse("{a: \xC3\xA4\xC3\xA4, a: 1}\n").problems == "f:1:9: a: is given twice (first at line 1)\n");
  CHECK(parse("\xC3\xA4: \xFF\n").problems == "f:1:4: is not UTF-8 text\n");
}

TEST_CASE("Byte-order mark, carriage returns, comments and one document marker are fine") {
  CHECK(parse("\xEF\xBB\xBF# note\r\na: 1\r\n").problems.empty());
  CHECK(parse("---\na: 1\n...\n").problems.empty());
  CHECK(parse("%YAML 1.2\n---\na: 1\n").problems.empty());
  CHECK(parse("a: \xC2\xB5m\n").problems.empty());
  CHECK(parse("a: 1\t# tab before a comment\n").problems.empty());
}

TEST_CASE("Texts that are refused") {
  CHECK(parse("").problems == "f:1:1: is empty\n");
  CHECK(parse("# only a comment\n").problems == "f:1:1: is empty\n");
  CHECK(parse("word\n").problems == "f:1:1: expected keys with values (a map), found a text\n");
  CHECK(parse("- a\n").problems == "f:1:1: expected keys with values (a map), found a list\n");
  CHECK(parse("a: 1\nb:\n\tc: 2\n").problems == "f:3:1: a tab is used as indentation; use spaces\n");
  CHECK(parse("a: 1\n---\nb: 2\n").problems == "f:2:1: a second document begins here; a file holds one\n");
  CHECK(parse(std::string_view{"a: \0b\n", 6}).problems ==
        "f:1:4: holds the control character 0x00; this is not a text file\n");
  CHECK(parse("a: \xFF\n").problems == "f:1:4: is not UTF-8 text\n");
  CHECK(parse("a: \xC0\xAF\n").problems == "f:1:4: is not UTF-8 text\n");      // overlong
  CHECK(parse("a: \xED\xA0\x80\n").problems == "f:1:4: is not UTF-8 text\n");  // half of a surrogate pair
  CHECK(parse("a: b: c\n").problems ==
        "f:1:5: a ': ' does not belong here; is the line correctly indented?\n");
  CHECK(parse("a: {b: 1\n").problems ==
        "f:2:1: the '}' of a map is missing, or a text with [ ] { } in it needs quotes\n");
  CHECK(parse("a: @b\n").problems == "f:1:4: cannot be read as YAML: unknown token\n");
  CHECK(parse(std::string(kLargestInput + 1, ' ')).problems == "f:1:1: is larger than 4 MiB\n");
}

TEST_CASE("A quote that is not closed does not take the rest of the file with it") {
  const std::string rest = "b: 2\nc:\n  - {d: \"x\"}\n";
  const std::string deeper =
      " takes in line 2, which is not indented deeper; is the closing quote missing?\n";
  CHECK(parse("a: \"text\n" + rest).problems == "f:1:4: the text that begins with this \"" + deeper);
  CHECK(parse("a: 'text\n" + rest).problems == "f:1:4: the text that begins with this '" + deeper);
  CHECK(parse("a: 'text\n" + rest + "# it's\n").problems ==
        "f:1:4: the text that begins with this '" + deeper);
  CHECK(parse("a: 1\nb: 'text\n").problems == "f:2:4: the closing ' of this text is missing\n");
  CHECK(parse("a: 1\nb: \"text\\\"\n").problems == "f:2:4: the closing \" of this text is missing\n");
  const Parsed parsed = parse("a: 'it''s\n  a text\n\n  of lines'\nb:\n  - {c: \"x\n      y\"}\n");
  CHECK(parsed.problems.empty());
  REQUIRE(parsed.root);
  CHECK(parsed.root->find("a")->value.text == "it's a text\nof lines");
}

TEST_CASE("Empty keys and control characters, also escaped ones, are refused") {
  CHECK(parse("a: 1\n\"\": {b: 2}\n").problems == "f:2:1: a key is empty\n");
  CHECK(parse("a: \"\\e[2J\"\n").problems == "f:1:4: a: holds the control character \\x1b\n");
  CHECK(parse("a: \"x\\0y\"\n").problems == "f:1:4: a: holds the control character \\x00\n");
  CHECK(parse("a: \"x\\ry\"\n").problems == "f:1:4: a: holds the control character \\x0d\n");
  CHECK(parse("\"a\\e\": 1\n").problems == "f:1:1: holds the control character \\x1b\n");
}

TEST_CASE("What is reported while the rest is still read") {
  const Parsed parsed = parse("a: 1\nb: 2\na: 3\n<<: {c: 1}\nd: &x 4\ne: *x\nf: !!int 5\n? [g]\n: 6\n");
  REQUIRE(parsed.root);
  CHECK(parsed.root->find("a")->value.text == "1");
  CHECK(parsed.root->find("c") == nullptr);
  CHECK(parsed.problems ==
        "f:3:1: a: is given twice (first at line 1)\n"
        "f:4:1: merge keys (<<) are not used here; write the keys out\n"
        "f:5:4: anchors (&name) are not used here; write the value out\n"
        "f:6:4: aliases (*name) are not used here; write the value out\n"
        "f:7:4: tags (!name) are not used here\n"
        "f:8:3: a key is a text, not a list\n");
}

TEST_CASE("A duplicate deep inside is reported with its path") {
  CHECK(parse("a:\n  - {b: 1}\n  - {b: 1, b: 2}\n").problems ==
        "f:3:12: a[2].b: is given twice (first at line 3)\n");
}

TEST_CASE("Aliases cannot multiply and depth, width and size are bounded") {
  // Nine lists of nine aliases each would be 9^9 texts if they were followed.
  std::string bomb = "a: &a [x,x,x,x,x,x,x,x,x]\n";
  for (char c = 'b'; c < 'k'; ++c) {
    const std::string before = std::string{"*"} + static_cast<char>(c - 1);
    bomb += std::string{c} + ": &" + c + " [" + before;
    for (int i = 0; i < 8; ++i) bomb += "," + before;
    bomb += "]\n";
  }
  const Parsed parsed = parse(bomb);
  REQUIRE(parsed.root);
  CHECK(parsed.problems.find("f:2:4: anchors (&name) are not used here") != std::string::npos);

  CHECK(parse("a: " + std::string(30, '[') + std::string(30, ']')).problems ==
        "f:1:27: is nested deeper than 24 levels\n");
  CHECK(parse("a: " + std::string(1000000, '[')).problems.find("nested deeper than 24 levels") !=
        std::string::npos);
  std::string wide;
  for (int i = 0; i < 3000; ++i) wide += "k" + std::to_string(i) + ": 1\n";
  CHECK(parse(wide).problems == "f:2001:1: is key number 2001 of its map; at most 2000 are read\n");
}

TEST_CASE("No more problems are kept than anybody reads") {
  std::string text;
  for (int i = 0; i < 5000; ++i) text += "a: 1\n";
  Report report;
  report.open("f");
  parse_tree(text, 0, report);
  const auto problems = report.problems();
  REQUIRE(problems.size() == kMostProblems + 1);
  CHECK(problems.back().message == "there are more problems than the 1000 that are listed");
}

TEST_CASE("Settings change a tree at the place that their path names") {
  Parsed parsed =
      parse("a: 1\nb: {c: 2}\nl: [{x: 1}, {x: 2}]\np: {value: 3, range: [1, 4]}\nq: {value: [5, 6]}\n");
  Node& root = *parsed.root;
  CHECK(change(root, "a=9").empty());
  CHECK(root.find("a")->value.text == "9");
  CHECK(root.find("a")->value.place == Place{0, 1, 3});
  CHECK(change(root, "b.c = 1 h").empty());
  CHECK(root.find("b")->value.find("c")->value.text == "1 h");
  CHECK(root.find("b")->value.find("c")->value.place == Place{0, 1, 7});
  CHECK(change(root, "l[2].x=7").empty());
  CHECK(change(root, "l.1.x=8").empty());
  CHECK(root.find("l")->value.items[1].find("x")->value.text == "7");
  CHECK(root.find("l")->value.items[0].find("x")->value.text == "8");
  CHECK(change(root, "p=2").empty());  // a plant parameter: the value, not the map
  CHECK(root.find("p")->value.find("value")->value.text == "2");
  CHECK(change(root, "p.range=[0, 9]").empty());
  CHECK(root.find("p")->value.find("range")->value.items[1].text == "9");
  CHECK(change(root, "q.2=0").empty());
  CHECK(root.find("q")->value.find("value")->value.items[1].text == "0");
  CHECK(change(root, "new.key=a: b # no YAML").empty());
  CHECK(root.find("new")->value.find("key")->value.text == "a: b # no YAML");
}

TEST_CASE("Settings that cannot be carried out") {
  Parsed parsed = parse("a: 1\nl: [{x: 1}]\n");
  Node& root = *parsed.root;
  CHECK(change(root, "a") == "--set:1:1: expected path=value, such as duration='2 h'\n");
  CHECK(change(root, "=1") == "--set:1:1: a path is keys joined by '.', such as commands[1].demand\n");
  CHECK(change(root, "a..b=1") ==
        "--set:1:3: a..b: a path is keys joined by '.', such as commands[1].demand\n");
  CHECK(change(root, "a b=1") == "--set:1:2: a b: ' ' is not part of a path; keys are joined by '.'\n");
  CHECK(change(root, "a.b=1") == "--set:1:3: a.b: there is no key 'b', because here is a text\n");
  CHECK(change(root, "a[0]=1") == "--set:1:2: a[0]: [0] counts the items of a list, and here is a text\n");
  CHECK(change(root, "l[2].x=1") ==
        "--set:1:2: l[2].x: there is no item [2]; the list has 1, counted from 1\n");
  CHECK(change(root, "l[0].x=1") ==
        "--set:1:2: l[0].x: there is no item [0]; the list has 1, counted from 1\n");
  CHECK(change(root, "l[-1].x=1") == "--set:1:3: l[-1].x: '-1' is not a whole number from 0 to 1000000\n");
  CHECK(change(root, "l[0=1") == "--set:1:2: l[0: the ']' of an item is missing\n");
  CHECK(change(root, "a=[1") ==
        "--set:1:3: the ']' of a list is missing, or a text with [ ] { } in it needs quotes\n");
}
