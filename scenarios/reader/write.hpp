/// Writes a struct as text that reads back to the same struct, by walking its list of keys.
///
/// Every key is written, defaults included; numbers in the unit of the dictionary with the fewest digits that
/// read back to the same bits; maps in block style, items of lists in flow style, one a line.
/// Source: YAML 1.2.2. Valid for every value that the decoder can produce.
/// Left out: comments, and the order of the original file.
#pragma once

#include <string>
#include <string_view>

#include "scenarios/reader/keys.hpp"

namespace duskline::scenarios {

/// A text in double quotes with what YAML wants escaped.
std::string quote(std::string_view text);

/// The text as it is where YAML reads it as that text in any place, else in quotes.
std::string scalar_text(std::string_view text);

class Writer : public Keys {
 public:
  using Keys::list;
  bool writes() const override { return true; }
  void number(const Key& key, const Quantity& quantity, double& value) override;
  void number(const Key& key, const Quantity& quantity, float& value) override;
  void number_or_none(const Key& key, const Quantity& quantity, double& value) override;
  void whole(const Key& key, std::uint64_t& value) override;
  void text(const Key& key, std::string& value) override;
  void word(const Key& key, std::span<const Word> words, int& value) override;
  void choice(const Key& key, std::span<const std::string> choices, bool items, std::string& value) override;
  void map(const Key& key, const std::function<void()>& inside) override;
  void list(const Key& key, const ListAccess& access) override;
  void skip(const Key&) override {}

  /// A key whose value is already text.
  void raw(std::string_view name, std::string_view value);
  /// `name:` and whatever `inside` writes, one level deeper.
  void section(std::string_view name, const std::function<void()>& inside);

  std::string take() { return std::move(out_); }

 private:
  std::string out_;
  int level_{};
  bool flow_{};   // inside the braces of an item
  bool first_{};  // nothing written in these braces so far
};

}  // namespace duskline::scenarios
