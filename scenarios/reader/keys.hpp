/// The keys of an input, listed once and walked by three readers of the list: decode, write, describe.
///
/// A list of keys is a function `keys(Keys&, T&)` that names every key with its member of T. The decoder puts
/// values of a tree into T, the writer puts T into text, the describer makes rows of T's defaults.
/// T holds its defaults when the walk begins. Numbers are in the unit of their Quantity.
/// Valid for plain structs of numbers, words, texts and lists of such structs.
/// Left out: checks that involve several keys; they come after the walk.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/reader/quantity.hpp"

namespace duskline::scenarios {

struct Key {
  std::string_view name;
  std::string_view meaning;
  bool required{};
  std::string_view source{};
  bool lines{};  ///< a text that may have several
};

/// One of the words that a key allows.
struct Word {
  int value{};
  std::string_view word;
  std::string_view meaning;
};

/// How a walk reaches a list: its size, a way to change it, and the keys of one item.
struct ListAccess {
  std::size_t size{};
  std::size_t most{};
  std::function<void(std::size_t)> resize;
  std::function<void(std::size_t)> item;
};

class Keys {
 public:
  virtual ~Keys() = default;

  /// True when the walk puts values into the struct, so that a default may be taken from another key.
  virtual bool reads() const { return false; }
  /// True when the walk puts the struct into text, which leaves out what was left open.
  virtual bool writes() const { return false; }

  virtual void number(const Key& key, const Quantity& quantity, double& value) = 0;
  virtual void number(const Key& key, const Quantity& quantity, float& value) = 0;
  /// A number or the word `none`, which is NaN.
  virtual void number_or_none(const Key& key, const Quantity& quantity, double& value) = 0;
  virtual void whole(const Key& key, std::uint64_t& value) = 0;
  virtual void text(const Key& key, std::string& value) = 0;
  virtual void word(const Key& key, std::span<const Word> words, int& value) = 0;
  /// A text that is one of the choices, or one of them with an item, `name.3`, when `items` allows it.
  virtual void choice(const Key& key, std::span<const std::string> choices, bool items,
                      std::string& value) = 0;
  virtual void map(const Key& key, const std::function<void()>& inside) = 0;
  virtual void list(const Key& key, const ListAccess& access) = 0;
  /// A key that cannot be judged because another one is wrong.
  virtual void skip(const Key& key) = 0;

  /// A list that is a vector; `item(element, index)` names the keys of an element.
  template <class T, class Item>
  void list(const Key& key, std::vector<T>& values, const Item& item) {
    list(key, {values.size(), 10000, [&](std::size_t n) { values.resize(n); },
               [&](std::size_t i) { item(values[i], i); }});
  }
};

/// A path and the item that it may end in: "a.b.3" and "a.b[3]" are "a.b" and 3.
struct ItemPath {
  std::string path;
  int item{-1};  ///< -1: none
};
ItemPath split_item(std::string_view path);

}  // namespace duskline::scenarios
