/// tune.json: task, start, result, front, held-out comparison and margins. Same result, same bytes.
#pragma once

#include <string>

#include "hil-harness/tune/tune.hpp"

namespace duskline::harness {

/// What the held-out draws say of the best candidate. Requirements come first: fewer runs that lack one are better, more
/// are worse; between equals so are the margins of the loops; between equals in both the stated objective is worse on
/// average, better beyond its uncertainty, or neither.
enum class TuneVerdict { unchanged, better, not_significant, worse };
TuneVerdict verdict_of(const TuneResult& result);
std::string_view word(TuneVerdict verdict);
/// The candidate whose gains are written: the best one, or the start when that one is worse on the held-out draws.
std::size_t kept_candidate(const TuneResult& result);

std::string tune_json(const TuneTask& task, const TuneResult& result);

/// The lines that a person reads first.
std::string tune_text(const TuneTask& task, const TuneResult& result);

/// The objective in words: `-12.3 % (95 %: -14.1 to -10.5 %)` of a difference against its start.
std::string change_words(const Difference& difference);

/// The largest Ms over all points and loops; 0 without any.
double largest_sensitivity(const std::vector<PointMargins>& margins);

}  // namespace duskline::harness
