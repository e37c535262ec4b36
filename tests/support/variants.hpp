// Plants with other laws for some of their parts.
#pragma once

#include <string>
#include <vector>

#include "plant-model/variants.hpp"

namespace duskline::tests {

struct NamedVariants {
  std::string name;
  plant::Variants variants;
};

/// Every variant that is not the usual one, alone, and then the last of every part together; without the division of the
/// cells, which has a state of another length (tests/property/division_test.cpp).
inline std::vector<NamedVariants> all_variants() {
  std::vector<NamedVariants> all;
  plant::Variants last;
  for (const plant::VariantPart& part : plant::kVariantParts)
    for (const plant::Variant& v : plant::kVariants) {
      if (v.part != part.choice || v.value == 0 || part.choice == &plant::Variants::division) continue;
      NamedVariants one{std::string(part.name), {}};
      one.name += " " + std::string(v.word);
      one.variants.*part.choice = last.*part.choice = v.value;
      all.push_back(one);
    }
  all.push_back({"all together", last});
  return all;
}

}  // namespace duskline::tests
