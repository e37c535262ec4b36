#include "scenarios/reader/decode.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "scenarios/reader/suggest.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::scenarios {

ItemPath split_item(std::string_view path) {
  const ItemPath whole{std::string{path}, -1};
  const bool bracket = path.ends_with(']');
  const std::size_t sign = path.rfind(bracket ? '[' : '.');
  if (sign == path.npos) return whole;
  const WholeReading item =
      read_whole(path.substr(sign + 1, path.size() - sign - (bracket ? 2 : 1)), 0, 1000000);
  if (!item.error.empty()) return whole;
  return {std::string{path.substr(0, sign)}, static_cast<int>(item.value)};
}

Decoder::Decoder(const Node& root, Place place, std::string path, Report& report) : report_{report} {
  frames_.push_back({&root, place, std::move(path), {}});
}

std::string Decoder::path_of(const Key& key) const {
  const std::string& path = frames_.back().path;
  return path.empty() ? std::string{key.name} : path + "." + std::string{key.name};
}

void Decoder::print_error(const Key& key, Place place, std::string message) {
  report_.add(place, path_of(key), std::move(message));
}

const Pair* Decoder::find(const Key& key) {
  Frame& frame = frames_.back();
  frame.known.emplace_back(key.name);
  if (frame.node == nullptr) return nullptr;
  const Pair* pair = frame.node->find(key.name);
  if (pair == nullptr) {
    if (key.required) frame.missing.push_back(key);
    return nullptr;
  }
  if (pair->value.kind == Node::Kind::nothing) {
    print_error(key, pair->place, fmt::format("has no value ({})", key.meaning));
    return nullptr;
  }
  places_[path_of(key)] = pair->value.place;
  return pair;
}

const std::string* Decoder::scalar(const Key& key, std::string_view expected) {
  const Pair* pair = find(key);
  if (pair == nullptr) return nullptr;
  if (pair->value.kind != Node::Kind::text) {
    print_error(key, pair->value.place,
                fmt::format("expected {}, found {}", expected, name_of(pair->value.kind)));
    return nullptr;
  }
  return &pair->value.text;
}

void Decoder::number(const Key& key, const Quantity& quantity, double& value) {
  const std::string* text = scalar(key, "a number");
  if (text == nullptr) return;
  const Reading reading = read_quantity(*text, quantity);
  if (reading.error.empty())
    value = reading.value;
  else
    print_error(key, where(path_of(key)), reading.error);
}

void Decoder::number(const Key& key, const Quantity& quantity, float& value) {
  Quantity single = quantity;
  single.single = true;
  double wide = static_cast<double>(value);
  number(key, single, wide);
  value = static_cast<float>(wide);
}

void Decoder::number_or_none(const Key& key, const Quantity& quantity, double& value) {
  const Node* map = frames_.back().node;
  const Pair* pair = map ? map->find(key.name) : nullptr;
  if (pair != nullptr && pair->value.kind == Node::Kind::text && pair->value.text == "none") {
    find(key);
    value = std::numeric_limits<double>::quiet_NaN();
    return;
  }
  number(key, quantity, value);
}

void Decoder::whole(const Key& key, std::uint64_t& value) {
  const std::string* text = scalar(key, "a whole number");
  if (text == nullptr) return;
  const WholeReading reading = read_whole(*text, 0, std::numeric_limits<std::uint64_t>::max());
  if (reading.error.empty())
    value = reading.value;
  else
    print_error(key, where(path_of(key)), reading.error);
}

void Decoder::text(const Key& key, std::string& value) {
  const std::string* text = scalar(key, "a text");
  if (text == nullptr) return;
  const bool blank = text->find_first_not_of(" \n\t") == text->npos;
  if (key.required && blank)
    print_error(key, where(path_of(key)), fmt::format("is empty ({})", key.meaning));
  else if (!key.lines && find_control(*text, false) != text->npos)
    print_error(key, where(path_of(key)), "is a text of one line");
  else
    value = *text;
}

void Decoder::word(const Key& key, std::span<const Word> words, int& value) {
  std::vector<std::string> allowed;
  for (const Word& word : words) allowed.emplace_back(word.word);
  std::string chosen;
  choice(key, allowed, false, chosen);
  for (const Word& word : words)
    if (word.word == chosen) value = word.value;
}

void Decoder::choice(const Key& key, std::span<const std::string> choices, bool items, std::string& value) {
  const std::string* text = scalar(key, "a word");
  if (text == nullptr) return;
  const ItemPath given = items ? split_item(*text) : ItemPath{*text, -1};
  if (std::find(choices.begin(), choices.end(), given.path) != choices.end()) {
    value = *text;
    return;
  }
  std::string hint = did_you_mean(given.path, choices);
  if (hint.empty() && choices.size() <= 12) hint = fmt::format("; expected {}", fmt::join(choices, " | "));
  print_error(key, where(path_of(key)), fmt::format("'{}' is not known{}", text->substr(0, 80), hint));
}

void Decoder::map(const Key& key, const std::function<void()>& inside) {
  const Pair* pair = find(key);
  const Node* node = pair ? &pair->value : nullptr;
  if (node != nullptr && node->kind != Node::Kind::map) {
    print_error(key, node->place, fmt::format("expected a map with keys, found {}", name_of(node->kind)));
    node = nullptr;
  }
  enter(node, pair ? pair->place : frames_.back().place, path_of(key), inside);
}

void Decoder::list(const Key& key, const ListAccess& access) {
  const Pair* pair = find(key);
  if (pair == nullptr) return;
  const Node& node = pair->value;
  if (node.kind != Node::Kind::list) {
    print_error(key, node.place, fmt::format("expected a list, found {}", name_of(node.kind)));
    return;
  }
  if (node.items.size() > access.most) {
    print_error(key, node.place,
                fmt::format("has {} items; at most {} are allowed", node.items.size(), access.most));
    return;
  }
  access.resize(node.items.size());
  const std::string path = path_of(key);
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& item = node.items[i];
    const std::string item_path = fmt::format("{}[{}]", path, i + 1);
    const bool is_map = item.kind == Node::Kind::map;
    if (!is_map)
      report_.add(item.place, item_path,
                  fmt::format("expected a map with keys, found {}", name_of(item.kind)));
    places_[item_path] = item.place;
    enter(is_map ? &item : nullptr, item.place, item_path, [&] { access.item(i); });
  }
}

void Decoder::skip(const Key& key) {
  frames_.back().known.emplace_back(key.name);
}

void Decoder::enter(const Node* node, Place place, std::string path, const std::function<void()>& inside) {
  frames_.push_back({node, place, std::move(path), {}});
  inside();
  report_unknown();
  frames_.pop_back();
}

void Decoder::report_unknown() {
  Frame& frame = frames_.back();
  if (frame.node == nullptr) return;
  for (const Pair& pair : frame.node->pairs) {
    if (std::find(frame.known.begin(), frame.known.end(), pair.key) != frame.known.end()) continue;
    report_.add(pair.place, path_of({pair.key, ""}), "unknown key" + did_you_mean(pair.key, frame.known));
    // a misspelt key is one problem, not a missing key too
    std::erase_if(frame.missing,
                  [meant = nearest(pair.key, frame.known)](const Key& k) { return k.name == meant; });
  }
  for (const Key& key : frame.missing)
    print_error(key, frame.place, fmt::format("is missing ({})", key.meaning));
}

void Decoder::finish() {
  report_unknown();
}

Place Decoder::where(const std::string& path) const {
  const auto found = places_.find(path);
  return found == places_.end() ? frames_.front().place : found->second;
}

}  // namespace duskline::scenarios
