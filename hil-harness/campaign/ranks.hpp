/// The processes that `mpirun` has started, by a library of its own, so that the program itself needs no MPI.
///
/// What it is   messages between this process and the others of the job; rank 0 hands out runs and writes
/// Validity     one thread of each process calls these; a message is a text
/// Left out     going on after a rank is lost: mpirun ends the job then, and the same call goes on
#pragma once

#include <memory>
#include <optional>
#include <string>

namespace duskline::harness {

/// This process was started by mpirun.
bool started_by_mpirun();

class Ranks {
 public:
  /// Joins the others; null with a problem when the library is missing or does not start.
  static std::unique_ptr<Ranks> join(std::string& problem);
  ~Ranks();
  Ranks(const Ranks&) = delete;
  Ranks& operator=(const Ranks&) = delete;

  int rank() const { return rank_; }
  int size() const { return size_; }
  /// False when the other side is gone.
  bool send(int to, const std::string& text);
  struct Message {
    int from;
    std::string text;
  };
  /// A message that has arrived, if any; does not wait.
  std::optional<Message> take();

 private:
  struct Library;
  explicit Ranks(std::unique_ptr<Library> library);

  std::unique_ptr<Library> library_;
  int rank_{}, size_{1};
};

}  // namespace duskline::harness
