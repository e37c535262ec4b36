/// The files of the console's page, built from hil-harness/train/page and embedded in the library.
#pragma once

#include <span>
#include <string_view>

namespace duskline::harness {

struct PageFile {
  std::string_view path;  ///< as the browser asks for it
  std::string_view type;  ///< media type
  std::string_view bytes;
};

std::span<const PageFile> page_files();

}  // namespace duskline::harness
