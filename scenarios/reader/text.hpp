/// Text that may be shown: no control character reaches a terminal, no broken byte or mark a file of results.
///
/// Control characters are U+0000 to U+001F, U+007F and U+0080 to U+009F. Source: Unicode 15, RFC 3629.
/// Left out: characters that look alike, text that runs from right to left.
#pragma once

#include <string>
#include <string_view>

namespace duskline::scenarios {

/// Length of the UTF-8 sequence that starts at `at`, 0 if it is none.
std::size_t utf8_length(std::string_view text, std::size_t at);

/// How many characters a UTF-8 text has.
int count_characters(std::string_view text);

/// Where the first control character stands (line feeds and tabs are allowed when `lines`); npos: none.
std::size_t find_control(std::string_view text, bool lines);

/// Control characters as \n, \x1b and so on, bytes that are no UTF-8 as U+FFFD.
std::string printable(std::string_view text);

/// Text of an element or attribute of HTML or XML, in which no mark can stand.
std::string escaped_text(std::string_view text);

}  // namespace duskline::scenarios
