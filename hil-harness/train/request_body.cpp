#include "hil-harness/train/request_body.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

constexpr int kDepth = 4;

/// No request of the console is deeper; a hostile one is refused before it is built.
bool too_deep(const std::string& text) {
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (quoted && text[i] == '\\') {
      ++i;
    } else if (text[i] == '"') {
      quoted = !quoted;
    } else if (!quoted && (text[i] == '{' || text[i] == '[')) {
      if (++depth > kDepth) return true;
    } else if (!quoted && (text[i] == '}' || text[i] == ']')) {
      --depth;
    }
  }
  return false;
}

}  // namespace

RequestBody::RequestBody(const std::string& text) {
  if (!too_deep(text)) body_ = nlohmann::json::parse(text, nullptr, false);
  if (!body_.is_object()) {
    body_ = nlohmann::json::object();
    problem("", "is no JSON object");
  }
}

void RequestBody::problem(std::string_view path, std::string_view message) {
  problems_.push_back({{"path", path}, {"message", message}});
}

std::string RequestBody::problems() const {
  return nlohmann::json{{"problems", problems_}}.dump();
}

bool RequestBody::has(const char* name) const {
  return body_.contains(name) && !body_[name].is_null();
}

const nlohmann::json* RequestBody::find(const char* name, bool required) {
  known_.emplace_back(name);
  if (has(name)) return &body_[name];
  if (required) problem(name, "is missing");
  return nullptr;
}

std::string RequestBody::text(const char* name, std::size_t most) {
  const nlohmann::json* value = find(name, true);
  if (value == nullptr) return {};
  if (!value->is_string()) return problem(name, "is no text"), std::string{};
  const auto& text = value->get_ref<const std::string&>();
  if (text.empty() || text.find_first_not_of(" \t\n") == text.npos)
    return problem(name, "is empty"), std::string{};
  if (text.size() > most) return problem(name, fmt::format("is longer than {} bytes", most)), std::string{};
  if (scenarios::find_control(text, false) != text.npos)
    return problem(name, "is a text of one line without control characters"), std::string{};
  return text;
}

double RequestBody::number(const char* name, double low, double high) {
  const nlohmann::json* value = find(name, true);
  if (value == nullptr) return low;
  const double number = value->is_number() ? value->get<double>() : NAN;
  if (!std::isfinite(number)) return problem(name, "is no number"), low;
  if (number < low || number > high)
    return problem(name, fmt::format("is outside its limits, {:.6g} to {:.6g}", low, high)), low;
  return number;
}

double RequestBody::number_or(const char* name, double low, double high, double otherwise) {
  if (has(name)) return number(name, low, high);
  known_.emplace_back(name);
  return otherwise;
}

bool RequestBody::yes(const char* name) {
  const nlohmann::json* value = find(name, true);
  if (value == nullptr) return false;
  if (!value->is_boolean()) return problem(name, "is neither true nor false"), false;
  return value->get<bool>();
}

bool RequestBody::clean() {
  for (const auto& [name, value] : body_.items())
    if (std::find(known_.begin(), known_.end(), name) == known_.end())
      problem(scenarios::printable(name.substr(0, 80)), "is not known");
  return problems_.empty();
}

}  // namespace duskline::harness
