#include "hil-harness/batch/identity.hpp"

#include <fstream>
#include <iterator>

namespace duskline::harness {

std::string identity_of(const scenarios::Case& c) {
  std::string text = scenarios::write_resolved(c.scenario, c.plant);
  if (c.weather_file.empty()) return text;
  std::ifstream file(c.weather_file, std::ios::binary);
  return text + std::string(std::istreambuf_iterator<char>(file), {});
}

}  // namespace duskline::harness
