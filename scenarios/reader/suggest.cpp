#include "scenarios/reader/suggest.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace duskline::scenarios {
namespace {

constexpr std::size_t kLongestWord = 100;  // longer ones are no slip of the keyboard

std::string plain(std::string_view word) {
  std::string out;
  for (char c : word) {
    if (c == '-' || c == ' ') c = '_';
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    out += c;
  }
  return out;
}

}  // namespace

std::size_t typing_slips(std::string_view given, std::string_view meant) {
  const std::string a = plain(given), b = plain(meant);
  std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), now(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    now[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t changed = a[i - 1] == b[j - 1] ? 0 : 1;
      now[j] = std::min({last[j] + 1, now[j - 1] + 1, last[j - 1] + changed});
      const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
      if (swapped) now[j] = std::min(now[j], before[j - 2] + 1);
    }
    before = last;
    last = now;
  }
  return last[b.size()];
}

std::string nearest(std::string_view given, std::span<const std::string> words) {
  if (given.size() > kLongestWord) return {};
  std::string best;
  std::size_t least = std::max<std::size_t>(1, given.size() / 3) + 1;
  for (const std::string& word : words) {
    if (word.size() > kLongestWord) continue;
    const std::size_t slips = typing_slips(given, word);
    if (slips < least && slips < word.size()) {
      best = word;
      least = slips;
    }
  }
  return best;
}

std::string did_you_mean(std::string_view given, std::span<const std::string> words) {
  const std::string word = nearest(given, words);
  return word.empty() ? std::string{} : fmt::format("; did you mean '{}'?", word);
}

}  // namespace duskline::scenarios
