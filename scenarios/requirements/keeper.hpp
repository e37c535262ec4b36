/// What a run remembers, as bytes: one function of each part says what belongs to it, for saving and for reading back.
///
/// What it is   plain data as they are in memory, containers with their size, parts by their own `keep`
/// Validity     read back by the same program; a part that does not name one of its members does not compile where it
///              takes itself apart (`auto& [a, b] = *this`). Bytes that end too early leave `well()` false.
/// Left out     another order of bytes, another version of the program: whoever stores the bytes names both
#pragma once

#include <array>
#include <cstdint>
#include <cstring>
#include <deque>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "plant-model/instruments/fault_table.hpp"

namespace duskline::scenarios {

class Keeper {
 public:
  Keeper() = default;  ///< saves
  explicit Keeper(std::string bytes) : bytes_(std::move(bytes)), loads_(true) {}

  bool loads() const { return loads_; }
  const std::string& bytes() const { return bytes_; }
  bool well() const { return well_; }
  /// Everything has been read, and nothing was missing.
  bool complete() const { return well_ && place_ == bytes_.size(); }
  void fail() { well_ = false; }

  template <class... T>
  void operator()(T&... all) {
    (one(all), ...);
  }

 private:
  template <class T>
  void one(T& x) {
    if constexpr (requires { x.keep(*this); }) {
      x.keep(*this);
    } else {
      static_assert(std::is_trivially_copyable_v<T> && !std::is_pointer_v<T>);
      raw(&x, sizeof x);
    }
  }
  void one(std::string& text) { sequence(text); }
  template <class T>
  void one(std::vector<T>& items) {
    sequence(items);
  }
  template <class T>
  void one(std::deque<T>& items) {
    sequence(items);
  }
  void one(plant::FaultEvent& event) {
    auto& [at, fault, size, item, shape, rise, length, when, module] = event;
    (*this)(at, fault, size, item, shape, rise, length, when, module);
  }
  template <class T, std::size_t N>
  void one(std::array<T, N>& items) {
    for (T& item : items) one(item);
  }

  template <class Items>
  void sequence(Items& items) {
    std::uint64_t count = items.size();
    one(count);
    if (loads_) {
      if (!well_ || count > bytes_.size() - place_) return fail();  // an item takes a byte at least
      items.resize(count);
    }
    for (auto& item : items) one(item);
  }
  void raw(void* x, std::size_t size) {
    if (!loads_) {
      bytes_.append(static_cast<const char*>(x), size);
    } else if (well_ && size <= bytes_.size() - place_) {
      std::memcpy(x, bytes_.data() + place_, size);
      place_ += size;
    } else {
      fail();
    }
  }

  std::string bytes_;
  std::size_t place_ = 0;
  bool loads_ = false, well_ = true;
};

}  // namespace duskline::scenarios
