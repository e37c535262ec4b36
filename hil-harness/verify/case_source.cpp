#include "hil-harness/verify/case_source.hpp"

#include <fstream>
#include <iterator>

#include "hil-harness/verify/judge.hpp"
#include "hil-harness/verify/verify.hpp"

namespace duskline::harness {

scenarios::Result<scenarios::Case> CaseSource::open(const std::filesystem::path& file) {
  folder = file.parent_path();
  // the reader says best what is wrong with a file that cannot be read
  auto whole = read_whole_case(file, plants, settings);
  std::ifstream bytes(file, std::ios::binary);
  text.assign(std::istreambuf_iterator<char>(bytes), {});
  return whole;
}

scenarios::Result<scenarios::Case> CaseSource::read(std::span<const std::string> more) const {
  std::vector<std::string> all = settings;
  all.insert(all.end(), more.begin(), more.end());
  return scenarios::parse_case(text, name, folder, plants, all, requirement_lists());
}

}  // namespace duskline::harness
