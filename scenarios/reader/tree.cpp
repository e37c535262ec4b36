#include "scenarios/reader/tree.hpp"

#include <fmt/format.h>

#include <array>
#include <fstream>
#include <system_error>

namespace duskline::scenarios {

const Pair* Node::find(std::string_view key) const {
  for (const Pair& pair : pairs)
    if (pair.key == key) return &pair;
  return nullptr;
}

Pair* Node::find(std::string_view key) {
  for (Pair& pair : pairs)
    if (pair.key == key) return &pair;
  return nullptr;
}

std::string_view name_of(Node::Kind kind) {
  switch (kind) {
    case Node::Kind::nothing:
      return "nothing";
    case Node::Kind::text:
      return "a text";
    case Node::Kind::list:
      return "a list";
    case Node::Kind::map:
      return "a map";
  }
  return "nothing";
}

std::optional<std::string> read_bytes(const std::filesystem::path& path, int file, Report& report) {
  const auto refuse = [&](std::string why) {
    report.add({file, 1, 1}, "", std::move(why));
    return std::nullopt;
  };
  std::error_code error;
  const auto status = std::filesystem::status(path, error);
  if (!std::filesystem::exists(status)) return refuse("no such file");
  if (!std::filesystem::is_regular_file(status)) return refuse("is not a regular file");
  std::ifstream stream{path, std::ios::binary};
  if (!stream) return refuse("cannot be opened");
  std::string text;
  std::array<char, 65536> block{};
  while (stream.read(block.data(), block.size()) || stream.gcount() > 0) {
    text.append(block.data(), static_cast<std::size_t>(stream.gcount()));
    if (text.size() > kLargestInput)
      return refuse(fmt::format("is larger than {} MiB", kLargestInput >> 20U));
  }
  if (stream.bad()) return refuse("cannot be read");
  return text;
}

}  // namespace duskline::scenarios
