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
  Catch::Session session;
  const int wrong = session.applyCommandLine(argc, argv);
  if (wrong != 0) return wrong;
  session.configData().warnings = static_cast<Catch::WarnAbout::What>(
      session.configData().warnings | Catch::WarnAbout::NoTests);  // a name that matches no case fails
  const int result = session.run();
  return result == 0 && skipped ? duskline::tests::kSkipped : result;
}
