/// What the program says on the terminal. Neither a reader that has gone away nor a full disk is a crash.
#pragma once

#include <string>
#include <string_view>

namespace duskline::harness {

/// Makes standard input, output and error safe to use: what is closed is opened on nothing, so that no file
/// of a run takes its place, and a pipe that breaks is an error of writing, not the end of the program.
void prepare_output();

/// Writes to standard output; after the first failure the rest is dropped.
void print(std::string_view text);

/// Writes to standard error.
void print_error(std::string_view text);

enum class Stream { out, error };
/// Bold and colour may be used: a terminal that is not dumb, and NO_COLOR is not set.
bool has_colour(Stream stream);
/// `text` with its verdicts (satisfied, violated, undecided) in colour, where standard output has it.
std::string with_coloured_verdicts(std::string text);

/// `code`, or kNotCompleted (and a message) when standard output could not be written. A reader that has had
/// enough, such as `head`, is no failure.
int with_output_checked(int code);

}  // namespace duskline::harness
