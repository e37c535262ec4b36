/// Which of the known words did somebody mean? Finds the nearest by the number of typing slips.
///
/// A slip is a letter added, dropped, changed or swapped with its neighbour; capitals, `-` and `_` are equal.
/// Distance in slips; a word is near when at most a third of its letters (at least one) have to change.
/// Source: F. J. Damerau, Commun. ACM 7 (1964) 171; the form that edits no letter twice.
/// Left out: synonyms, and any language model.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace duskline::scenarios {

std::size_t typing_slips(std::string_view given, std::string_view meant);

/// The nearest of `words`, the first of equals; empty when none is near.
std::string nearest(std::string_view given, std::span<const std::string> words);

/// `; did you mean 'x'?`, or nothing.
std::string did_you_mean(std::string_view given, std::span<const std::string> words);

}  // namespace duskline::scenarios
