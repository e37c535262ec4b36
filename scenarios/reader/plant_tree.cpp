#include "scenarios/reader/plant_tree.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "scenarios/reader/decode.hpp"
#include "scenarios/reader/suggest.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::scenarios {
namespace {

// The texts of a plant besides its parameters.
struct TextKey {
  std::string_view name, meaning;
  std::string PlantFile::*member;
  bool required;
};
constexpr TextKey kTexts[] = {{"name", "one word for the plant", &PlantFile::name, true},
                              {"title", "what plant this is, in a line", &PlantFile::title, true},
                              {"purpose", "what the plant is for", &PlantFile::purpose, false}};

const TextKey* find_text(std::string_view name) {
  for (const TextKey& key : kTexts)
    if (key.name == name) return &key;
  return nullptr;
}

constexpr std::string_view kInstruments = "instruments", kVariantsKey = "variants";

// The form of a plant; what is not given is that of the demo plant.
constexpr std::string_view kModules = "modules", kIntake = "intake", kPiping = "piping",
                           kOutlet = "product_outlet";
constexpr std::string_view kFormKeys[] = {kModules, kIntake, kPiping, kOutlet};

bool is_form_key(std::string_view key) {
  return std::find(std::begin(kFormKeys), std::end(kFormKeys), key) != std::end(kFormKeys);
}

// Whether plants of this form have the parameter, or a parameter of the group.
bool fits(std::string_view path, const plant::PlantForm& form) {
  for (const plant::ParameterInfo& info : plant::parameter_table())
    if (info.fits(form) && info.path.starts_with(path) &&
        (info.path.size() == path.size() || info.path[path.size()] == '.'))
      return true;
  return false;
}

std::string join(std::string_view path, std::string_view key) {
  return path.empty() ? std::string{key} : fmt::format("{}.{}", path, key);
}

// The groups and parameters of the dictionary as a tree of names.
struct Dictionary {
  std::map<std::string, std::size_t> parameters;             // path to its place in the table
  std::map<std::string, std::vector<std::string>> children;  // path of a group to its names, in order

  Dictionary() {
    const auto table = plant::parameter_table();
    for (std::size_t i = 0; i < table.size(); ++i) {
      const std::string path{table[i].path};
      parameters.emplace(path, i);
      for (std::size_t start = 0;;) {
        const std::size_t dot = path.find('.', start);
        const std::string group = start == 0 ? "" : path.substr(0, start - 1);
        const std::string name = path.substr(start, dot == path.npos ? dot : dot - start);
        auto& names = children[group];
        if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
        if (dot == path.npos) break;
        start = dot + 1;
      }
    }
  }
  bool known(const std::string& path) const { return parameters.contains(path) || children.contains(path); }
};

const Dictionary& dictionary() {
  static const Dictionary all;
  return all;
}

class PlantDecoder {
 public:
  PlantDecoder(std::span<const int> files, Report& report) : files_{files}, report_{report} {
    plant_.notes.resize(plant::parameter_table().size());
  }

  PlantFile decode(const Node& root, Place place) {
    form(root, place);
    group(root, place, "");
    if (report_.clean()) check_whole(root);
    return std::move(plant_);
  }

 private:
  bool in_plant_file(Place place) const {
    return std::find(files_.begin(), files_.end(), place.file) != files_.end();
  }
  bool taken_over(Place place) const { return in_plant_file(place) && place.file != files_[0]; }
  void print_error(Place place, std::string_view path, std::string message) {
    report_.add(place, in_plant_file(place) ? std::string{path} : join("plant", path), std::move(message));
  }

  // What the limits of single values do not say.
  void check_whole(const Node& root) {
    for (const plant::ParameterProblem& problem : plant::check(plant_.parameters)) {
      const std::string_view path = problem.path;
      const std::size_t dot = path.find('.');
      const Node* value =
          &root.find(path.substr(0, dot))->value.find(path.substr(dot + 1))->value.find("value")->value;
      if (problem.item > 0) value = &value->items[problem.item - 1];
      print_error(value->place, path, problem.message);
    }
  }

  void group(const Node& node, Place place, const std::string& path) {
    const auto& names = dictionary().children.at(path);
    for (const Pair& pair : node.pairs) {
      const std::string child = join(path, pair.key);
      if (const TextKey* key = path.empty() ? find_text(pair.key) : nullptr; key != nullptr)
        text(*key, pair);
      else if (path.empty() && pair.key == kInstruments)
        instruments(pair);
      else if (path.empty() && pair.key == kVariantsKey)
        variants(pair);
      else if (path.empty() && is_form_key(pair.key))
        continue;
      else if (path.empty() && pair.key == "based_on")
        print_error(pair.place, child, "is a key of plant files alone");
      else if (dictionary().known(child) && !fits(child, form_))
        other_form(pair, child);
      else if (const auto found = dictionary().parameters.find(child); found != dictionary().parameters.end())
        parameter(pair, found->second);
      else if (!dictionary().children.contains(child))
        print_error(pair.place, child, "unknown key" + hint(pair.key, path));
      else if (pair.value.kind == Node::Kind::map)
        group(pair.value, pair.place, child);
      else
        print_error(pair.value.place, child,
                    fmt::format("expected a map of parameters, found {}", name_of(pair.value.kind)));
    }
    if (path.empty())
      for (const TextKey& key : kTexts)
        if (key.required && node.find(key.name) == nullptr)
          print_error(place, key.name, fmt::format("is missing ({})", key.meaning));
    for (const std::string& name : names)
      if (node.find(name) == nullptr && fits(join(path, name), form_)) missing(place, join(path, name));
  }

  // What a plant of another form left in the file that this one is based on does not count; what was added to it does.
  void other_form(const Pair& pair, const std::string& path) {
    if (const std::optional<Place> own = given_here(pair))
      print_error(*own, path, "belongs to plants of another form; this one is " + form_text());
  }
  std::optional<Place> given_here(const Pair& pair) const {
    if (!taken_over(pair.place)) return pair.place;
    for (const Pair& inner : pair.value.pairs)
      if (const std::optional<Place> own = given_here(inner)) return own;
    if (!taken_over(pair.value.place)) return pair.value.place;
    return std::nullopt;
  }

  // Comes first: it says which parameters there are.
  void form(const Node& root, Place place) {
    Node only;
    only.kind = Node::Kind::map;
    only.place = root.place;
    for (const Pair& pair : root.pairs)
      if (is_form_key(pair.key)) only.pairs.push_back(pair);
    Decoder decoder{only, place, in_plant_file(place) ? "" : "plant", report_};
    form_keys(decoder, form_);
    decoder.finish();
    if (form_.modules < 1 || form_.modules > plant::kMostModules) {
      print_error(decoder.where(std::string{kModules}), kModules,
                  fmt::format("is {}; expected 1 to {}", form_.modules, plant::kMostModules));
      form_.modules = 1;
    }
    if (const std::string_view problem = plant::form_problem(form_); !problem.empty())
      print_error(root.find(kIntake) != nullptr ? root.find(kIntake)->value.place : place, kIntake,
                  std::string{problem});
    else if (form_.intake == plant::kScroll && plant::has_headers(form_))
      print_error(root.find(kPiping)->value.place, kPiping,
                  "headers need another intake than 'scroll' so far");
    plant_.parameters.form = form_;
  }

  std::string form_text() const {
    return fmt::format("'{}: {}, {}: {}'", kIntake, plant::kIntakeWords[form_.intake].word, kPiping,
                       plant::kPipingWords[form_.piping].word);
  }

  // The decoder of a group that is no parameter; nothing where the key holds no map.
  std::optional<Decoder> section(const Pair& pair) {
    if (pair.value.kind == Node::Kind::map)
      return Decoder{pair.value, pair.place, in_plant_file(pair.place) ? pair.key : join("plant", pair.key),
                     report_};
    print_error(pair.value.place, pair.key,
                fmt::format("expected a map with keys, found {}", name_of(pair.value.kind)));
    return std::nullopt;
  }

  void instruments(const Pair& pair) {
    auto decoder = section(pair);
    if (!decoder) return;
    instrument_keys(*decoder, plant_.instruments);
    decoder->finish();
    for (const InstrumentRow& row : plant_.instruments)
      if (!(row.spec.lower < row.spec.upper))
        print_error(pair.place, fmt::format("{}.{}", kInstruments, row.spec.name),
                    "the lower end of the span lies below the upper one");
  }

  void variants(const Pair& pair) {
    auto decoder = section(pair);
    if (!decoder) return;
    variant_keys(*decoder, plant_.parameters.variants);
    decoder->finish();
  }

  // Suggests a sibling, or the place where a parameter of this name belongs.
  std::string hint(const std::string& key, const std::string& path) const {
    std::vector<std::string> names = dictionary().children.at(path);
    if (path.empty())
      for (const TextKey& text : kTexts) names.emplace_back(text.name);
    if (path.empty()) {
      names.insert(names.end(), {std::string{kInstruments}, std::string{kVariantsKey}, "based_on"});
      names.insert(names.end(), std::begin(kFormKeys), std::end(kFormKeys));
    }
    const std::string near = did_you_mean(key, names);
    if (!near.empty()) return near;
    for (const auto& [full, index] : dictionary().parameters)
      if (full.ends_with("." + key)) return fmt::format("; did you mean '{}'?", full);
    return {};
  }

  void missing(Place place, const std::string& path) {
    const auto found = dictionary().parameters.find(path);
    if (found == dictionary().parameters.end()) {
      print_error(
          place, path,
          fmt::format("is missing, a group with {}", fmt::join(dictionary().children.at(path), ", ")));
      return;
    }
    const plant::ParameterInfo& info = plant::parameter_table()[found->second];
    print_error(
        place, path,
        fmt::format("is missing ({}, {})", info.meaning, write_range(info.lower, info.upper, info.unit)));
  }

  void text(const TextKey& key, const Pair& pair) {
    if (pair.value.kind != Node::Kind::text)
      print_error(pair.value.place, pair.key,
                  fmt::format("expected a text, found {}", name_of(pair.value.kind)));
    else if (key.required && pair.value.text.find_first_not_of(" \n\t") == std::string::npos)
      print_error(pair.value.place, pair.key, fmt::format("is empty ({})", key.meaning));
    else if (find_control(pair.value.text, key.member == &PlantFile::purpose) != std::string::npos)
      print_error(pair.value.place, pair.key, "is a text of one line");
    else
      plant_.*key.member = pair.value.text;
  }

  void parameter(const Pair& pair, std::size_t index) {
    const plant::ParameterInfo& info = plant::parameter_table()[index];
    const std::string path{info.path};
    if (pair.value.kind != Node::Kind::map) {
      print_error(pair.value.place, path,
                  fmt::format("expected {{value: ..., range: [..., ...], source: ...}}, found {}",
                              name_of(pair.value.kind)));
      return;
    }
    static const std::vector<std::string> keys{"value", "range", "source"};
    for (const std::string& key : keys)
      if (pair.value.find(key) == nullptr) print_error(pair.place, path, fmt::format("has no {}", key));
    for (const Pair& inner : pair.value.pairs)
      if (std::find(keys.begin(), keys.end(), inner.key) == keys.end())
        print_error(inner.place, join(path, inner.key), "unknown key" + did_you_mean(inner.key, keys));
    Quantity quantity{info.unit, info.lower, info.upper, false};
    ParameterNote& note = plant_.notes[index];
    if (taken_over(pair.place))
      note.base = std::filesystem::path{report_.file(pair.place.file)}.filename().string();
    if (const Pair* source = pair.value.find("source")) read_source(*source, path, note);
    const Pair* range = pair.value.find("range");
    const bool banded = range != nullptr && read_range(*range, path, quantity, note);
    if (const Pair* value = pair.value.find("value"))
      read_value(*value, info, quantity, banded ? range : nullptr, note);
  }

  void read_source(const Pair& pair, const std::string& path, ParameterNote& note) {
    if (pair.value.kind != Node::Kind::text || pair.value.text.find_first_not_of(' ') == std::string::npos)
      print_error(pair.value.place, path + ".source", "expected a text that says where the value comes from");
    else
      note.source = pair.value.text;
  }

  bool read_range(const Pair& pair, const std::string& path, const Quantity& quantity, ParameterNote& note) {
    const Node& node = pair.value;
    if (node.kind != Node::Kind::list || node.items.size() != 2) {
      print_error(node.place, path + ".range", "expected a list of two values, the lower and the upper edge");
      return false;
    }
    double edges[2]{};
    bool fine = true;
    for (std::size_t i = 0; i < 2; ++i)
      fine &= read_item(node.items[i], fmt::format("{}.range[{}]", path, i + 1), quantity, edges[i]);
    if (!fine) return false;
    if (edges[0] > edges[1]) {
      print_error(node.place, path + ".range", "the lower edge stands first");
      return false;
    }
    note.lower = edges[0];
    note.upper = edges[1];
    return true;
  }

  void read_value(const Pair& pair, const plant::ParameterInfo& info, const Quantity& quantity,
                  const Pair* range, ParameterNote& note) {
    const std::string path{info.path};
    const std::span<double> targets = info.get(plant_.parameters);
    const Node& node = pair.value;
    const auto read = [&](const Node& item, const std::string& where, double& target) {
      if (!read_item(item, where, quantity, target) || range == nullptr) return;
      const Reading own = read_quantity(item.text, {info.unit, note.lower, note.upper, false});
      if (own.error.empty()) return;
      print_error(item.place, where,
                  fmt::format("{}, its range at {}", own.error, report_.also_at(item.place, range->place)));
    };
    if (targets.size() == 1) {
      read(node, path, targets[0]);
      note.value = node.text;
      return;
    }
    if (node.kind != Node::Kind::list || node.items.size() != targets.size()) {
      const std::string found =
          node.kind == Node::Kind::list ? std::to_string(node.items.size()) : std::string{name_of(node.kind)};
      print_error(node.place, path,
                  fmt::format("expected a list of {} values, found {}", targets.size(), found));
      return;
    }
    std::vector<std::string> texts;
    for (std::size_t i = 0; i < targets.size(); ++i) {
      read(node.items[i], fmt::format("{}[{}]", path, i + 1), targets[i]);
      texts.push_back(node.items[i].text);
    }
    note.value = fmt::format("[{}]", fmt::join(texts, ", "));
  }

  bool read_item(const Node& node, const std::string& path, const Quantity& quantity, double& target) {
    if (node.kind == Node::Kind::list || node.kind == Node::Kind::map) {
      print_error(node.place, path, fmt::format("expected a number, found {}", name_of(node.kind)));
      return false;
    }
    const Reading reading = read_quantity(node.text, quantity);
    if (!reading.error.empty()) {
      print_error(node.place, path, reading.error);
      return false;
    }
    target = reading.value;
    return true;
  }

  std::span<const int> files_;
  Report& report_;
  plant::PlantForm form_;
  PlantFile plant_;
};

std::string one_or_list(std::span<const double> values, std::string_view unit) {
  std::vector<std::string> texts;
  for (double value : values) texts.push_back(write_quantity(value, unit));
  return texts.size() == 1 ? texts[0] : fmt::format("[{}]", fmt::join(texts, ", "));
}

// Writes a group and the groups in it, in the order of the dictionary.
void write_group(const PlantFile& plant, Writer& writer, const std::string& group) {
  const auto table = plant::parameter_table();
  plant::PlantParameters copy = plant.parameters;
  for (const std::string& name : dictionary().children.at(group)) {
    const std::string path = join(group, name);
    if (!fits(path, plant.parameters.form)) continue;
    const auto found = dictionary().parameters.find(path);
    if (found == dictionary().parameters.end()) {
      writer.section(name, [&] { write_group(plant, writer, path); });
      continue;
    }
    const plant::ParameterInfo& info = table[found->second];
    const ParameterNote& note = plant.notes[found->second];
    writer.raw(name,
               fmt::format("{{value: {}, range: [{}, {}], source: {}}}",
                           one_or_list(info.get(copy), info.unit), write_quantity(note.lower, info.unit),
                           write_quantity(note.upper, info.unit), quote(note.source)));
  }
}

}  // namespace

void form_keys(Keys& keys, plant::PlantForm& form) {
  std::uint64_t modules = form.modules;
  keys.whole({kModules, "number of stack modules, from 1 to 12"}, modules);
  form.modules = modules;
  const auto word = [&keys](std::string_view key, std::string_view meaning,
                            std::span<const plant::FormWord> all, int& value) {
    std::vector<Word> words;
    for (const plant::FormWord& one : all) words.push_back({one.value, one.word, one.meaning});
    keys.word({key, meaning}, words, value);
  };
  word(kIntake, "what takes the air in", plant::kIntakeWords, form.intake);
  word(kPiping, "how the gas lines are connected", plant::kPipingWords, form.piping);
  word(kOutlet, "what the oxygen leaves the anode through", plant::kOutletWords, form.outlet);
}

void variant_keys(Keys& keys, plant::Variants& variants) {
  for (const plant::VariantPart& part : plant::kVariantParts) {
    std::vector<Word> words;
    for (const plant::Variant& v : plant::kVariants)
      if (v.part == part.choice) words.push_back({v.value, v.word, v.what});
    keys.word({part.name, part.meaning}, words, variants.*part.choice);
  }
}

bool is_plant_text(std::string_view key) {
  return find_text(key) != nullptr;
}

PlantFile decode_plant(const PlantTree& tree, Report& report) {
  return PlantDecoder{tree.files, report}.decode(tree.root, tree.start);
}

void write_plant_keys(const PlantFile& plant, Writer& writer) {
  for (const TextKey& key : kTexts)
    if (key.required || !(plant.*key.member).empty()) writer.raw(key.name, quote(plant.*key.member));
  const plant::PlantForm usual;
  plant::PlantForm form = plant.parameters.form;
  if (form.modules != usual.modules || form.intake != usual.intake || form.piping != usual.piping ||
      form.outlet != usual.outlet)
    form_keys(writer, form);
  write_group(plant, writer, "");
  plant::Variants variants = plant.parameters.variants;
  writer.section(kVariantsKey, [&] { variant_keys(writer, variants); });
  InstrumentTable instruments = plant.instruments;
  writer.section(kInstruments, [&] { instrument_keys(writer, instruments); });
}

}  // namespace duskline::scenarios
