/// The body of a POST: members of one JSON object, each taken once, and every problem of them.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace duskline::harness {

inline constexpr std::size_t kTextMax = 2000;  ///< bytes of a text that a person writes

class RequestBody {
 public:
  explicit RequestBody(const std::string& text);

  bool has(const char* name) const;
  std::string text(const char* name, std::size_t most = 80);
  /// A number within its limits; `otherwise` where there is none and none is needed.
  double number(const char* name, double low, double high);
  double number_or(const char* name, double low, double high, double otherwise);
  bool yes(const char* name);

  /// Also reports members that nobody asked for.
  bool clean();
  void problem(std::string_view path, std::string_view message);
  /// {"problems":[{"path","message"}]}
  std::string problems() const;

 private:
  const nlohmann::json* find(const char* name, bool required);

  nlohmann::json body_;
  std::vector<std::string> known_;
  nlohmann::json problems_ = nlohmann::json::array();
};

}  // namespace duskline::harness
