#include "hil-harness/cli/cli.hpp"

int main(int argc, char** argv) {
  return duskline::harness::command_line(argc, argv);
}
