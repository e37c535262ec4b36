#include "hil-harness/fmi/zip.hpp"

#include <cstdint>

#include "controller/crc32.hpp"

namespace duskline::harness {
namespace {

constexpr unsigned kVersion = 20;          // needed to take it apart: 2.0
constexpr unsigned kDate = 1U << 5U | 1U;  // 1 January 1980, the first date that there is
constexpr unsigned kUnix = 3U << 8U | kVersion;
constexpr std::uint32_t kPlainFile = 0100644U << 16U;

class Bytes {
 public:
  void two(std::uint64_t value) { some(value, 2); }
  void four(std::uint64_t value) { some(value, 4); }
  void text(const std::string& value) { text_ += value; }
  std::uint64_t size() const { return text_.size(); }
  std::string take() { return std::move(text_); }

 private:
  void some(std::uint64_t value, int count) {
    for (int k = 0; k < count; ++k) text_ += static_cast<char>(value >> (8 * k) & 0xffU);
  }
  std::string text_;
};

}  // namespace

std::string zip_of(const std::vector<std::pair<std::string, std::string>>& files) {
  Bytes all, directory;
  for (const auto& [name, content] : files) {
    const std::uint32_t sum = controller::crc32(reinterpret_cast<const unsigned char*>(content.data()),
                                                static_cast<std::uint32_t>(content.size()));
    const std::uint64_t at = all.size();
    // what the entry and its line in the directory have in common
    const auto common = [&, size = content.size(), length = name.size()](Bytes& to) {
      to.two(kVersion);
      to.two(0);  // flags
      to.two(0);  // stored
      to.two(0);  // time
      to.two(kDate);
      to.four(sum);
      to.four(size);
      to.four(size);
      to.two(length);
      to.two(0);  // extra field
    };
    all.four(0x04034b50U);
    common(all);
    all.text(name);
    all.text(content);
    directory.four(0x02014b50U);
    directory.two(kUnix);
    common(directory);
    directory.two(0);  // comment
    directory.two(0);  // disk
    directory.two(0);  // internal attributes
    directory.four(kPlainFile);
    directory.four(at);
    directory.text(name);
  }
  const std::uint64_t begin = all.size(), size = directory.size();
  all.text(directory.take());
  all.four(0x06054b50U);
  all.two(0);  // this disk
  all.two(0);  // disk of the directory
  all.two(files.size());
  all.two(files.size());
  all.four(size);
  all.four(begin);
  all.two(0);  // comment
  return all.take();
}

}  // namespace duskline::harness
