// What --help prints, and the manual page.
#include <fmt/format.h>

#include <algorithm>

#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/exit_codes.hpp"

namespace duskline::harness {
namespace {

constexpr std::size_t kWidth = 80, kIndent = 24;
constexpr std::string_view kAbout =
    "supervisory-control simulator for a plant that makes oxygen from the air of Mars";
constexpr std::string_view kCaution =
    "The model is no safety case: hot ceramics, CO, pure oxygen and pressure need local codes and licensed "
    "practice.";

/// Words of `text` in lines of at most `kWidth` columns: the first line begins at `column`, the others at `indent`;
/// `end` closes every line that goes on. A quoted text stays whole.
std::string wrapped(std::string_view text, std::size_t column, std::size_t indent,
                    std::string_view end = "") {
  std::string out;
  bool quoted = false, first = true;
  for (std::size_t at = 0; at < text.size();) {
    std::size_t stop = at;
    for (; stop < text.size() && (quoted || text[stop] != ' '); ++stop)
      if (text[stop] == '\'') quoted = !quoted;
    const std::string_view word = text.substr(at, stop - at);
    if (!first && column + 1 + word.size() + end.size() > kWidth) {
      out += fmt::format("{}\n{}", end, std::string(indent, ' '));
      column = indent;
    } else if (!first) {
      out += ' ';
      ++column;
    }
    out += word;
    column += word.size();
    first = false;
    at = stop + 1;
  }
  return out;
}

std::string row(const std::string& head, std::string_view meaning) {
  std::string out = "  " + head;
  if (out.size() + 2 > kIndent)
    return out + "\n" + std::string(kIndent, ' ') + wrapped(meaning, kIndent, kIndent) + "\n";
  out.resize(kIndent, ' ');
  return out + wrapped(meaning, kIndent, kIndent) + "\n";
}

std::string head_of(const Option& o) {
  if (o.by_place() || o.value.empty()) return o.name;
  return o.name + " " + o.value;
}

std::string meaning_of(const Option& o) {
  return o.meaning + (!o.by_place() && o.repeats ? "; may be repeated" : "") +
         (!o.by_place() && o.required ? " (required)" : "");
}

std::string usage_of(const Verb& verb, const Arguments& arguments) {
  std::string text = fmt::format("duskline {}", verb.name);
  for (const Option& o : arguments.options)
    if (o.by_place()) text += o.required ? " " + o.name : " [" + o.name + "]";
  return text + " [OPTION]...";
}

/// The example as it works for somebody who called the program by this name.
std::string example_for(std::string_view example, const std::string& program) {
  std::string text{example};
  const std::string name = "duskline ";
  if (program.find('/') != std::string::npos)
    if (const auto at = text.find(name); at != std::string::npos)
      text.replace(at, name.size(), program + " ");
  return text;
}

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text)
    out += c == '\\' ? "\\e" : c == '-' ? "\\-" : c == '\'' ? "\\(aq" : std::string(1, c);
  return out.starts_with('.') ? "\\&" + out : out;
}

}  // namespace

std::string help_text(const Verb* verb, const std::string& program, bool bold) {
  const auto title = [bold](std::string_view text) {
    return bold ? fmt::format("\033[1m{}\033[0m", text) : std::string{text};
  };
  std::string text;
  std::string_view example = "duskline describe";
  if (verb == nullptr) {
    text = fmt::format("{}\n{}\n\n{}\n  duskline VERB [WORD]... [OPTION]...\n\n{}\n",
                       wrapped(fmt::format("duskline: {}", kAbout), 0, 0), wrapped(kCaution, 0, 0),
                       title("Usage:"), title("Verbs:"));
    for (const Verb& one : verb_table()) text += row(std::string{one.name}, one.what);
    text += fmt::format("\n{}\n", title("Options:"));
    text += row("-h, --help", "Print this help; `duskline VERB --help` prints that of a verb");
    text += row("--version", "Print the version");
  } else {
    const Arguments arguments = verb->declare();
    text = fmt::format("{}\n\n{}\n  {}\n\n{}\n", wrapped(verb->what, 0, 0), title("Usage:"),
                       usage_of(*verb, arguments), title("Options:"));
    for (const Option& o : arguments.options) text += row(head_of(o), meaning_of(o));
    text += row("-h, --help", "Print this help");
    example = verb->example;
  }
  return text +
         fmt::format("\n{}\n  {}\n", title("Example:"), wrapped(example_for(example, program), 2, 4, " \\"));
}

std::string manual_page() {
  std::string text = fmt::format(
      ".TH DUSKLINE 1 \"\" \"duskline {}\" \"User Commands\"\n.SH NAME\nduskline \\- {}\n.SH SYNOPSIS\n.B "
      "duskline\n"
      ".I VERB\n[\\fIWORD\\fR]... [\\fIOPTION\\fR]...\n.SH DESCRIPTION\n{}\n.PP\nOptions take their value "
      "after a "
      "blank or after =. Nothing is overwritten without \\-\\-force.\n.SH VERBS\n",
      version(), escaped(kAbout), escaped(kCaution));
  for (const Verb& verb : verb_table()) {
    const Arguments arguments = verb.declare();
    text += fmt::format(".SS {}\n{}.\n", escaped(usage_of(verb, arguments)), escaped(verb.what));
    for (const Option& o : arguments.options)
      text += fmt::format(".TP\n.B {}\n{}\n", escaped(head_of(o)), escaped(meaning_of(o)));
    text +=
        fmt::format(".PP\nExample:\n.PP\n.nf\n    {}\n.fi\n", escaped(wrapped(verb.example, 4, 8, " \\")));
  }
  text += ".SH EXIT STATUS\n";
  for (const auto& code : kExitCodes)
    text += fmt::format(".TP\n.B {}\n{}: {}\n", code.code, escaped(code.word), escaped(code.meaning));
  text +=
      ".SH ENVIRONMENT\n.TP\n.B DUSKLINE_HOME\nFolder with the plants and scenarios that ship.\n.TP\n.B "
      "NO_COLOR\n"
      "When set and not empty, nothing is printed in bold or in colour.\n";
  return text;
}

}  // namespace duskline::harness
