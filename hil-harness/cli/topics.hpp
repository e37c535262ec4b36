/// What `describe` can describe: each topic once, with its table and its page of docs/reference.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "hil-harness/cli/table.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::harness {

struct Topic {
  std::string_view word;
  std::string_view page;   ///< file in docs/reference
  std::string_view title;  ///< of the page
  std::string_view shows;  ///< in the list of topics
  std::string_view about;  ///< first paragraph of the page
  Table (*table)(const scenarios::PlantFile& plant);
};

std::span<const Topic> topics();
const Topic* find_topic(std::string_view word);

/// The list of topics.
Table topic_table();

/// The page of docs/reference.
std::string page_of(const Topic& topic, const scenarios::PlantFile& plant);

}  // namespace duskline::harness
