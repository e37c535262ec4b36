// A disk of a given size, to be filled.
#pragma once

#include <sys/mount.h>

#include <filesystem>
#include <string>
#include <utility>

namespace duskline::tests {

/// A file system of a given size in memory, for as long as this lives; `mounted` tells whether it could be
/// had.
struct TinyDisk {
  TinyDisk(std::string path, const std::string& size) : folder(std::move(path)) {
    std::filesystem::create_directories(folder);
    mounted = mount("tmpfs", folder.c_str(), "tmpfs", 0, ("size=" + size).c_str()) == 0;
  }
  TinyDisk(const TinyDisk&) = delete;
  TinyDisk& operator=(const TinyDisk&) = delete;
  ~TinyDisk() {
    if (mounted) umount2(folder.c_str(), MNT_DETACH);
  }

  /// Room from now on; what is there stays.
  bool resize(const std::string& size) const {
    return mount("tmpfs", folder.c_str(), "tmpfs", MS_REMOUNT, ("size=" + size).c_str()) == 0;
  }

  std::string folder;
  bool mounted = false;
};

}  // namespace duskline::tests
