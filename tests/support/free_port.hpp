/// A port of this machine that nobody listens on.
#pragma once

#include <arpa/inet.h>
#include <sys/socket.h>
#include <unistd.h>
#include <catch2/catch.hpp>

namespace duskline::tests {

inline int free_port() {
  const int probe = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  REQUIRE(bind(probe, reinterpret_cast<const sockaddr*>(&address), size) == 0);
  REQUIRE(getsockname(probe, reinterpret_cast<sockaddr*>(&address), &size) == 0);
  close(probe);
  return ntohs(address.sin_port);
}

}  // namespace duskline::tests
