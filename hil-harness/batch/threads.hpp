/// Jobs worked off by several threads, whatever the order: a result may depend on the number of a job alone.
#pragma once

#include <cstddef>
#include <functional>

namespace duskline::harness {

/// work(0) to work(count - 1), each once, by `threads` of them, this one included. An exception ends the rest and is
/// thrown again here.
void on_threads(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work);

}  // namespace duskline::harness
