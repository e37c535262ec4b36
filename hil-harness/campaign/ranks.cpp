#include "hil-harness/campaign/ranks.hpp"

#include <dlfcn.h>

#include <cstdlib>
#include <filesystem>

#include "hil-harness/campaign/mpi/ranks_library.h"

namespace duskline::harness {

struct Ranks::Library {
  decltype(&duskline_ranks_join) join{};
  decltype(&duskline_ranks_send) send{};
  decltype(&duskline_ranks_waiting) waiting{};
  decltype(&duskline_ranks_take) take{};
  decltype(&duskline_ranks_leave) leave{};
};

bool started_by_mpirun() {
  return std::getenv("OMPI_COMM_WORLD_SIZE") != nullptr;
}

Ranks::Ranks(std::unique_ptr<Library> library) : library_(std::move(library)) {}

std::unique_ptr<Ranks> Ranks::join(std::string& problem) {
  std::error_code error;
  const auto folder = std::filesystem::read_symlink("/proc/self/exe", error).parent_path();
  const std::string file = (folder / "duskline_ranks.so").string();
  // the library of MPI loads parts of its own, which look for what it offers
  void* const opened = dlopen(file.c_str(), RTLD_NOW | RTLD_GLOBAL);
  if (opened == nullptr) {
    problem =
        "campaigns under mpirun need duskline_ranks.so beside the program, which is built where Open MPI is "
        "installed (libopenmpi-dev)";
    if (std::filesystem::exists(file, error)) problem = dlerror();
    return nullptr;
  }
  auto library = std::make_unique<Library>();
  const auto find = [&](auto& to, const char* name) {
    to = reinterpret_cast<std::decay_t<decltype(to)>>(dlsym(opened, name));
    if (to == nullptr) problem = file + " lacks " + name;
  };
  find(library->join, "duskline_ranks_join");
  find(library->send, "duskline_ranks_send");
  find(library->waiting, "duskline_ranks_waiting");
  find(library->take, "duskline_ranks_take");
  find(library->leave, "duskline_ranks_leave");
  if (!problem.empty()) return nullptr;
  std::unique_ptr<Ranks> ranks(new Ranks(std::move(library)));
  if (ranks->library_->join(&ranks->rank_, &ranks->size_) == 0) return ranks;
  problem = "the processes of mpirun could not be joined";
  return nullptr;
}

Ranks::~Ranks() {
  library_->leave();
}

bool Ranks::send(int to, const std::string& text) {
  return library_->send(to, text.data(), static_cast<int>(text.size())) == 0;
}

std::optional<Ranks::Message> Ranks::take() {
  Message message{};
  const int count = library_->waiting(&message.from);
  if (count < 0) return std::nullopt;
  message.text.resize(static_cast<std::size_t>(count));
  if (library_->take(message.from, message.text.data(), count) != 0) return std::nullopt;
  return message;
}

}  // namespace duskline::harness
