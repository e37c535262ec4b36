#include "scenarios/reader/write.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace duskline::scenarios {
namespace {

// Words that other YAML readers take for something else than a text.
constexpr std::string_view kTakenWords[] = {"on", "off", "yes", "no", "true", "false", "null", "y", "n"};

bool is_plain_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '.' ||
         c == '/' || c == '-';
}

}  // namespace

std::string quote(std::string_view text) {
  std::string out = "\"";
  for (char c : text) {
    if (c == '"' || c == '\\')
      out += std::string{'\\'} + c;
    else if (c == '\n')
      out += "\\n";
    else if (c == '\t')
      out += "\\t";
    else if (c == '\r')
      out += "\\r";
    else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F)
      out += fmt::format("\\x{:02x}", static_cast<unsigned>(c));
    else
      out += c;
  }
  return out + "\"";
}

std::string scalar_text(std::string_view text) {
  std::string lower{text};
  for (char& c : lower) c = static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  const bool letters = std::all_of(text.begin(), text.end(), is_plain_letter);
  const bool starts_well =
      !text.empty() && text[0] != '-' && text[0] != '.' && !(text[0] >= '0' && text[0] <= '9');
  const bool taken =
      std::find(std::begin(kTakenWords), std::end(kTakenWords), lower) != std::end(kTakenWords);
  return letters && starts_well && !taken ? std::string{text} : quote(text);
}

void Writer::raw(std::string_view name, std::string_view value) {
  if (flow_) {
    out_ += fmt::format("{}{}: {}", first_ ? "" : ", ", name, value);
    first_ = false;
  } else {
    out_ += fmt::format("{:{}}{}: {}\n", "", 2 * level_, name, value);
  }
}

void Writer::section(std::string_view name, const std::function<void()>& inside) {
  out_ += fmt::format("{:{}}{}:\n", "", 2 * level_, name);
  ++level_;
  inside();
  --level_;
}

void Writer::number(const Key& key, const Quantity& quantity, double& value) {
  raw(key.name, write_quantity(value, quantity.unit));
}

void Writer::number(const Key& key, const Quantity& quantity, float& value) {
  raw(key.name, write_quantity(value, quantity.unit));
}

void Writer::number_or_none(const Key& key, const Quantity& quantity, double& value) {
  raw(key.name, std::isnan(value) ? "none" : write_quantity(value, quantity.unit));
}

void Writer::whole(const Key& key, std::uint64_t& value) {
  raw(key.name, std::to_string(value));
}

void Writer::text(const Key& key, std::string& value) {
  if (!value.empty() || key.required) raw(key.name, quote(value));
}

void Writer::word(const Key& key, std::span<const Word> words, int& value) {
  for (const Word& word : words)
    if (word.value == value) raw(key.name, scalar_text(word.word));
}

void Writer::choice(const Key& key, std::span<const std::string>, bool, std::string& value) {
  raw(key.name, scalar_text(value));
}

void Writer::map(const Key& key, const std::function<void()>& inside) {
  section(key.name, inside);
}

void Writer::list(const Key& key, const ListAccess& access) {
  if (access.size == 0) {
    raw(key.name, "[]");
    return;
  }
  out_ += fmt::format("{:{}}{}:\n", "", 2 * level_, key.name);
  for (std::size_t i = 0; i < access.size; ++i) {
    out_ += fmt::format("{:{}}- {{", "", 2 * level_ + 2);
    flow_ = first_ = true;
    access.item(i);
    flow_ = false;
    out_ += "}\n";
  }
}

}  // namespace duskline::scenarios
