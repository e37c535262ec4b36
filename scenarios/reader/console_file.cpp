#include "scenarios/reader/console_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <sstream>

#include "scenarios/reader/decode.hpp"
#include "scenarios/reader/plant_tree.hpp"
#include "scenarios/reader/suggest.hpp"

namespace duskline::scenarios {
namespace {

constexpr std::string_view kConsoleFormat = "duskline-console/1";
constexpr Quantity kGrid{"1", 0.0, 1000.0};
constexpr std::array<Word, 2> kYesNo{{{0, "no", ""}, {1, "yes", ""}}};

const std::vector<std::string>& symbols() {
  static const std::vector<std::string> list{"intake",    "filter", "compressor", "vessel",
                                             "exchanger", "heater", "stack",      "valve",
                                             "orifice",   "outlet", "electrode",  "supply"};
  return list;
}
const std::vector<std::string>& pipe_kinds() {
  static const std::vector<std::string> list{"gas", "product", "electric", "signal"};
  return list;
}

void yes_or_no(Keys& keys, const Key& key, bool& value) {
  int number = value ? 1 : 0;
  keys.word(key, kYesNo, number);
  value = number != 0;
}

void picture_keys(Keys& keys, ConsoleFile& c) {
  keys.number({"width", "of the picture, in steps of its grid"}, kGrid, c.width);
  keys.number({"height", "of the picture, in steps of its grid"}, kGrid, c.height);
  keys.list({"parts", "parts of the plant"}, c.parts, [&](PicturePart& p, std::size_t) {
    keys.text({"name", "of the part", true}, p.name);
    keys.text({"title", "as it is written", true}, p.title);
    keys.choice({"symbol", "how it is drawn", true}, symbols(), false, p.symbol);
    keys.number({"x", "left edge", true}, kGrid, p.x);
    keys.number({"y", "upper edge", true}, kGrid, p.y);
    keys.number({"w", "width", true}, kGrid, p.w);
    keys.number({"h", "height", true}, kGrid, p.h);
    keys.text({"state", "signal that is shown in it"}, p.state);
    yes_or_no(keys, {"flip", "drawn from right to left"}, p.flip);
  });
  keys.list({"pipes", "lines between parts"}, c.pipes, [&](PicturePipe& p, std::size_t) {
    keys.choice({"kind", "what the line carries", true}, pipe_kinds(), false, p.kind);
    keys.text({"points", "corners as `x y, x y`", true}, p.points);
    keys.text({"title", "as it is written"}, p.title);
    keys.text({"flow", "signal of the flow"}, p.flow);
    yes_or_no(keys, {"arrow", "its end has an arrow"}, p.arrow);
  });
  keys.list({"readings", "where values stand"}, c.readings, [&](PictureReading& r, std::size_t) {
    keys.text({"signal", "whose value it is", true}, r.signal);
    keys.number({"x", "centre", true}, kGrid, r.x);
    keys.number({"y", "centre", true}, kGrid, r.y);
  });
}

void console_keys(Keys& keys, ConsoleFile& c) {
  keys.list({"groups", "groups of signals, by parts of the plant"}, c.groups,
            [&](ConsoleGroup& g, std::size_t) {
              keys.text({"name", "of the group", true}, g.name);
              keys.text({"title", "as it is written", true}, g.title);
            });
  keys.list({"tags", "what is added to signals"}, c.tags, [&](ConsoleTag& t, std::size_t) {
    keys.text({"signal", "of the dictionary", true}, t.signal);
    keys.text({"tag", "letters and number of the instrument; # is the item"}, t.tag);
    keys.text({"group", "of the list above"}, t.group);
    keys.text({"title", "as it is written; # is the item"}, t.title);
    keys.text({"set", "command that sets it"}, t.set);
    keys.text({"alarm_low", "alarm below whose limit it may not fall"}, t.alarm_low);
    keys.text({"alarm_high", "alarm above whose limit it may not rise"}, t.alarm_high);
  });
  keys.map({"picture", "the plant from intake to product"}, [&] { picture_keys(keys, c); });
  keys.map({"margins", "voltages against their moving limit"}, [&] {
    keys.text({"title", "as it is written"}, c.margins.title);
    keys.text({"text", "what it shows"}, c.margins.text);
    keys.text({"row", "name of a row; # is the item"}, c.margins.row);
    keys.text({"voltage", "signal with an item a row"}, c.margins.voltage);
    keys.text({"margin", "signal with an item a row"}, c.margins.margin);
    keys.text({"sigma", "signal of its standard deviation"}, c.margins.sigma);
    keys.text({"alarm", "alarm by its word"}, c.margins.alarm);
    keys.text({"trip", "parameter of the controller"}, c.margins.trip);
  });
  keys.map({"modules", "a card for each of several modules"}, [&] {
    keys.text({"title", "as it is written"}, c.modules.title);
    keys.text({"text", "what it shows"}, c.modules.text);
    keys.text({"mode", "signal with one place a module"}, c.modules.mode);
    keys.text({"margin", "signal with one place a module"}, c.modules.margin);
    keys.text({"sigma", "signal of its standard deviation"}, c.modules.sigma);
    keys.text({"values", "further signals, between commas"}, c.modules.values);
    keys.text({"alarm", "alarm by its word"}, c.modules.alarm);
    keys.text({"trip", "parameter of the controller"}, c.modules.trip);
  });
  keys.list({"procedures", "check-lists"}, c.procedures, [&](Procedure& p, std::size_t) {
    keys.text({"name", "of the procedure", true}, p.name);
    keys.text({"title", "as it is written", true}, p.title);
    keys.text({"text", "when it is used"}, p.text);
    keys.list({"steps", "in order"}, p.steps, [&](ProcedureStep& s, std::size_t) {
      keys.text({"text", "what to do", true}, s.text);
      keys.text({"done_when", "condition that says that it is done"}, s.done_when);
      keys.text({"signal", "to look at"}, s.signal);
    });
  });
  keys.list({"trends", "signals that are looked at together"}, c.trends, [&](TrendChoice& t, std::size_t) {
    keys.text({"title", "as it is written", true}, t.title);
    keys.text({"signals", "names between commas", true}, t.signals);
  });
}

class ConsoleChecker {
 public:
  ConsoleChecker(const Decoder& decoder, std::span<const TraceSignal> signals, Report& report)
      : decoder_(decoder), signals_(signals), report_(report) {
    for (const TraceSignal& s : signals) names_.push_back(s.name);
  }

  void signal(const std::string& path, const std::string& given) {
    if (given.empty()) return;
    const ItemPath name = split_item(given);
    const auto there = std::find(names_.begin(), names_.end(), name.path);
    if (there == names_.end())
      say(path, fmt::format("there is no signal '{}'{}", name.path, did_you_mean(name.path, names_)));
    else if (name.item == 0 ||
             name.item > static_cast<int>(signals_[static_cast<std::size_t>(there - names_.begin())].width))
      say(path, fmt::format("there is no item [{}]", name.item));
  }
  void condition(const std::string& path, const std::string& text) {
    if (text.empty()) return;
    for (const auto& problem : parse_requirement(text, signals_).problems)
      say(path, message_of(problem, text));
  }
  void say(const std::string& path, std::string message) {
    report_.add(decoder_.where(path), path, std::move(message));
  }

 private:
  const Decoder& decoder_;
  std::span<const TraceSignal> signals_;
  Report& report_;
  std::vector<std::string> names_;
};

void check_console(const ConsoleFile& c, ConsoleChecker& check) {
  std::vector<std::string> groups;
  for (const ConsoleGroup& g : c.groups) groups.push_back(g.name);
  for (std::size_t i = 0; i < c.tags.size(); ++i) {
    const std::string path = fmt::format("tags[{}]", i + 1);
    check.signal(path + ".signal", c.tags[i].signal);
    if (!c.tags[i].group.empty() && std::find(groups.begin(), groups.end(), c.tags[i].group) == groups.end())
      check.say(path + ".group", fmt::format("there is no group '{}'{}", c.tags[i].group,
                                             did_you_mean(c.tags[i].group, groups)));
  }
  for (std::size_t i = 0; i < c.parts.size(); ++i)
    check.signal(fmt::format("picture.parts[{}].state", i + 1), c.parts[i].state);
  for (std::size_t i = 0; i < c.pipes.size(); ++i) {
    const std::string path = fmt::format("picture.pipes[{}]", i + 1);
    check.signal(path + ".flow", c.pipes[i].flow);
    if (picture_points(c.pipes[i].points).size() < 2)
      check.say(path + ".points", "is no list of two or more points, such as `0 10, 20 10`");
  }
  for (std::size_t i = 0; i < c.readings.size(); ++i)
    check.signal(fmt::format("picture.readings[{}].signal", i + 1), c.readings[i].signal);
  check.signal("margins.voltage", c.margins.voltage);
  check.signal("margins.margin", c.margins.margin);
  check.signal("margins.sigma", c.margins.sigma);
  check.signal("modules.mode", c.modules.mode);
  check.signal("modules.margin", c.modules.margin);
  check.signal("modules.sigma", c.modules.sigma);
  for (const std::string& name : names_between_commas(c.modules.values)) check.signal("modules.values", name);
  for (std::size_t i = 0; i < c.procedures.size(); ++i)
    for (std::size_t k = 0; k < c.procedures[i].steps.size(); ++k) {
      const std::string path = fmt::format("procedures[{}].steps[{}]", i + 1, k + 1);
      check.condition(path + ".done_when", c.procedures[i].steps[k].done_when);
      check.signal(path + ".signal", c.procedures[i].steps[k].signal);
    }
  for (std::size_t i = 0; i < c.trends.size(); ++i)
    for (const std::string& name : names_between_commas(c.trends[i].signals))
      check.signal(fmt::format("trends[{}].signals", i + 1), name);
}

}  // namespace

std::filesystem::path console_path(const std::filesystem::path& folder, const std::string& plant,
                                   const plant::PlantForm& form) {
  const std::filesystem::path own = folder / (plant + ".yaml");
  std::error_code error;
  if (std::filesystem::exists(own, error)) return own;
  return folder / (plant::has_headers(form) ? "outpost.yaml" : "bench.yaml");
}

Result<ConsoleFile> read_console(const std::filesystem::path& path, std::span<const TraceSignal> signals) {
  Report report;
  const int file = report.open(path.string());
  const auto root = open_tree(path, file, kConsoleFormat, report);
  ConsoleFile c;
  if (root) {
    Decoder decoder{*root, {file, 1, 1}, "", report};
    console_keys(decoder, c);
    decoder.finish();
    ConsoleChecker check(decoder, signals, report);
    if (report.clean()) check_console(c, check);
  }
  if (!report.clean()) return {std::nullopt, report.problems()};
  return {std::move(c), {}};
}

std::vector<std::pair<double, double>> picture_points(const std::string& text) {
  std::vector<std::pair<double, double>> points;
  for (const std::string& one : names_between_commas(text)) {
    std::istringstream numbers(one);
    std::pair<double, double> point;
    if (!(numbers >> point.first >> point.second) || !(numbers >> std::ws).eof()) return {};
    points.push_back(point);
  }
  return points;
}

std::vector<std::string> names_between_commas(const std::string& text) {
  std::vector<std::string> names;
  std::istringstream stream(text);
  for (std::string one; std::getline(stream, one, ',');) {
    const std::size_t first = one.find_first_not_of(" \n"), last = one.find_last_not_of(" \n");
    if (first != one.npos) names.push_back(one.substr(first, last - first + 1));
  }
  return names;
}

}  // namespace duskline::scenarios
