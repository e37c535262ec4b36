#define CATCH_CONFIG_RUNNER
#include <catch2/catch.hpp>

#include "tests/support/skip.hpp"

namespace {

bool skipped = false;

}  // namespace

void duskline::tests::skip(const std::string& reason) {
  skipped = true;
  WARN("SKIPPED: " << reason);
}

int main(int argc, char** argv) {
  const int result = Catch::Session().run(argc, argv);
  return result == 0 && skipped ? duskline::tests::kSkipped : result;
}
