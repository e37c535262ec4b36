#include "scenarios/reader/problem.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "scenarios/reader/report.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::scenarios {

std::string to_text(const Problem& problem) {
  const std::string path = problem.path.empty() ? "" : problem.path + ": ";
  return printable(
      fmt::format("{}:{}:{}: {}{}", problem.file, problem.line, problem.column, path, problem.message));
}

std::string to_text(const std::vector<Problem>& problems) {
  std::string text;
  for (const Problem& problem : problems) text += to_text(problem) + '\n';
  return text;
}

int Report::open(std::string name) {
  files_.push_back(std::move(name));
  return static_cast<int>(files_.size()) - 1;
}

void Report::add(Place place, std::string path, std::string message) {
  if (found_.size() < kMostProblems)
    found_.push_back({place, std::move(path), std::move(message)});
  else
    more_ = true;
}

bool Report::mentions(const std::string& path) const {
  return std::any_of(found_.begin(), found_.end(), [&](const Found& found) { return found.path == path; });
}

std::string Report::also_at(Place here, Place there) const {
  if (here.file == there.file) return fmt::format("line {}", there.line);
  return fmt::format("{}:{}:{}", file(there.file), there.line, there.column);
}

std::vector<Problem> Report::problems() const {
  std::vector<Found> sorted = found_;
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const Found& a, const Found& b) { return a.place < b.place; });
  std::vector<Problem> problems;
  problems.reserve(sorted.size() + 1);
  for (const Found& found : sorted)
    problems.push_back(
        {file(found.place.file), found.place.line, found.place.column, found.path, found.message});
  if (more_) {
    Problem last = problems.back();
    last.path.clear();
    last.message = fmt::format("there are more problems than the {} that are listed", kMostProblems);
    problems.push_back(std::move(last));
  }
  return problems;
}

}  // namespace duskline::scenarios
