/// Collects the problems of one reading and puts them in the order of the files and of their text.
///
/// A place is a file by its number in the report, a line and a column; it is as small as it can be because
/// every node of a parsed file carries one. The files are sorted in the order in which they were opened.
/// Valid for inputs below 2^31 lines.
/// Left out: the text around the place.
#pragma once

#include <string>
#include <vector>

#include "scenarios/reader/problem.hpp"

namespace duskline::scenarios {

struct Place {
  int file{};
  int line{1};
  int column{1};

  auto operator<=>(const Place&) const = default;
};

inline constexpr std::size_t kMostProblems = 1000;

class Report {
 public:
  /// Gives a file its number.
  int open(std::string name);
  const std::string& file(int number) const { return files_[static_cast<std::size_t>(number)]; }

  /// Adds a problem. After kMostProblems the input is hopeless: no more are kept, and a last one says so.
  void add(Place place, std::string path, std::string message);
  bool clean() const { return found_.empty(); }
  /// True when a problem with this path has been reported.
  bool mentions(const std::string& path) const;

  /// Names `there` to a reader who looks at `here`: `line 3`, or `file:3:1` when it is another file.
  std::string also_at(Place here, Place there) const;

  std::vector<Problem> problems() const;

 private:
  struct Found {
    Place place;
    std::string path, message;
  };
  std::vector<std::string> files_;
  std::vector<Found> found_;
  bool more_ = false;
};

}  // namespace duskline::scenarios
