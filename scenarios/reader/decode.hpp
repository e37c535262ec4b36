/// Puts the values of a tree into a struct, by walking the struct's list of keys; reports all that is wrong.
///
/// Unknown keys are reported with the nearest known one, missing ones at the map that should hold them.
/// Every value is located, so that checks across keys can point at it: `where("commands[1].at")`.
/// Valid for one walk a decoder.
/// Left out: defaults; they stand in the struct.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "scenarios/reader/keys.hpp"
#include "scenarios/reader/tree.hpp"

namespace duskline::scenarios {

class Decoder : public Keys {
 public:
  /// Decodes the map `root`, whose missing keys are reported at `place`; `path` is put before every path.
  Decoder(const Node& root, Place place, std::string path, Report& report);

  using Keys::list;
  bool reads() const override { return true; }
  void number(const Key& key, const Quantity& quantity, double& value) override;
  void number(const Key& key, const Quantity& quantity, float& value) override;
  void number_or_none(const Key& key, const Quantity& quantity, double& value) override;
  void whole(const Key& key, std::uint64_t& value) override;
  void text(const Key& key, std::string& value) override;
  void word(const Key& key, std::span<const Word> words, int& value) override;
  void choice(const Key& key, std::span<const std::string> choices, bool items, std::string& value) override;
  void map(const Key& key, const std::function<void()>& inside) override;
  void list(const Key& key, const ListAccess& access) override;
  void skip(const Key& key) override;

  /// Reports the keys of the root that nobody asked for. Call it after the walk.
  void finish();

  /// True when the key of this path has a value in the text, right or wrong.
  bool given(const std::string& path) const { return places_.contains(path); }
  /// Where the value of a path stands; the start of the root when it was not given.
  Place where(const std::string& path) const;

 private:
  struct Frame {
    const Node* node;  // null: the map is not there and only defaults are walked
    Place place;
    std::string path;
    std::vector<std::string> known;
    std::vector<Key> missing{};
  };

  std::string path_of(const Key& key) const;
  /// The pair of a key, noted as known; null when it is not there or holds nothing.
  const Pair* find(const Key& key);
  /// The text of a key; null after a problem or when it is not there.
  const std::string* scalar(const Key& key, std::string_view expected);
  void print_error(const Key& key, Place place, std::string message);
  void enter(const Node* node, Place place, std::string path, const std::function<void()>& inside);
  void report_unknown();

  Report& report_;
  std::vector<Frame> frames_;
  std::map<std::string, Place> places_;
};

}  // namespace duskline::scenarios
