/// Files in one archive, as they are.
///
/// What it is   entries that are stored without compression, a directory, its end
/// Validity     archives below 4 GiB; every entry has the same date, so that the same files give the same bytes
/// Source       ZIP File Format Specification (APPNOTE) 6.3, sections 4.3.7, 4.3.12, 4.3.16
#pragma once

#include <string>
#include <utility>
#include <vector>

namespace duskline::harness {

/// `files`: name in the archive, content.
std::string zip_of(const std::vector<std::pair<std::string, std::string>>& files);

}  // namespace duskline::harness
