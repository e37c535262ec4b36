#include "hil-harness/batch/threads.hpp"

#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace duskline::harness {

void on_threads(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr error;
  std::mutex telling;
  const auto labour = [&] {
    try {
      for (std::size_t i = next++; i < count; i = next++) work(i);
    } catch (...) {
      const std::lock_guard lock(telling);
      error = std::current_exception();
      next = count;
    }
  };
  std::vector<std::thread> others;
  for (unsigned t = 1; t < threads && t < count; ++t) others.emplace_back(labour);
  labour();
  for (auto& thread : others) thread.join();
  if (error) std::rethrow_exception(error);
}

}  // namespace duskline::harness
