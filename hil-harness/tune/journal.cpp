#include "hil-harness/tune/journal.hpp"

#include <fmt/format.h>

#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "hil-harness/batch/json_number.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;
constexpr const char* kFormat = "duskline-tuning-journal/2";

std::string head(std::uint64_t task) {
  return Json{{"format", kFormat}, {"task", fmt::format("{:016x}", task)}}.dump() + "\n";
}

std::string line(const Candidate& c) {
  Json measured = Json::array();
  for (const double v : c.worth.measured) measured.push_back(json_number(v));
  return Json{{"values", c.values},   {"measured", measured},         {"cost", json_number(c.worth.cost)},
              {"lack", c.worth.lack}, {"violated", c.worth.violated}, {"margins", c.worth.margins}}
             .dump() +
         "\n";
}

/// A number or an infinity; throws Json::exception for anything else.
double known(const Json& j) {
  const double v = number_in(j);
  return std::isnan(v) ? j.get<double>() : v;
}

std::optional<Candidate> candidate_of(const std::string& text) {
  const Json j = Json::parse(text, nullptr, false);
  if (j.is_discarded() || !j.is_object()) return std::nullopt;
  try {
    std::vector<double> measured;
    for (const Json& v : j.at("measured")) measured.push_back(known(v));
    return Candidate{j.at("values").get<std::vector<double>>(),
                     {std::move(measured), known(j.at("cost")), j.at("lack").get<double>(),
                      j.at("violated").get<std::string>(), j.at("margins").get<bool>()}};
  } catch (const Json::exception&) {
    return std::nullopt;
  }
}

}  // namespace

Journal Journal::open(const std::filesystem::path& path, std::uint64_t task, std::string& problem) {
  Journal journal;
  journal.path_ = path;
  journal.task_ = task;
  std::ifstream file(path, std::ios::binary);
  const std::string all(std::istreambuf_iterator<char>(file), {});
  std::string good = head(task);
  if (!all.empty() && !all.starts_with(good)) {
    problem = all.find(kFormat) == std::string::npos ? "is not the journal of a search"
                                                     : "is the journal of another search";
    return journal;
  }
  for (std::size_t at = good.size(); at < all.size();) {
    const std::size_t end = all.find('\n', at);
    if (end == std::string::npos) break;
    if (const auto c = candidate_of(all.substr(at, end - at))) {
      journal.known_[c->values] = c->worth;
      good += line(*c);
    }
    at = end + 1;
  }
  if (good != all) {
    const std::filesystem::path part = path.string() + ".part";
    std::ofstream whole(part, std::ios::binary);
    whole << good;
    whole.close();
    std::error_code error;
    if (whole) std::filesystem::rename(part, path, error);
    if (!whole || error) problem = "cannot be written";
  }
  return journal;
}

std::optional<Worth> Journal::find(const std::vector<double>& values) const {
  const auto at = known_.find(values);
  return at == known_.end() ? std::nullopt : std::optional(at->second);
}

bool Journal::add(const Candidate& candidate) {
  known_[candidate.values] = candidate.worth;
  std::ofstream file(path_, std::ios::binary | std::ios::app);
  file << line(candidate);
  return static_cast<bool>(file.flush());
}

std::string Journal::text(const std::vector<Candidate>& candidates) const {
  std::string all = head(task_);
  for (const Candidate& c : candidates) {
    const auto known = known_.find(c.values);
    all += line(known == known_.end() ? c : Candidate{c.values, known->second});
  }
  return all;
}

}  // namespace duskline::harness
