#include "hil-harness/verify/case_source.hpp"

#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {

scenarios::Result<scenarios::Case> CaseSource::read(std::span<const std::string> more) const {
  std::vector<std::string> all = settings;
  all.insert(all.end(), more.begin(), more.end());
  return scenarios::parse_case(text, name, folder, plants, all, requirement_signals());
}

}  // namespace duskline::harness
