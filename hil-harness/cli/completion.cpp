// Completion of command lines, written from the table of verbs.
#include <fmt/format.h>

#include "hil-harness/cli/command_line.hpp"

namespace duskline::harness {
namespace {

/// The place word that comes first, or null.
const Option* first_place(const Arguments& arguments) {
  for (const Option& o : arguments.options)
    if (o.by_place()) return &o;
  return nullptr;
}

/// What offers the values of an option in bash: words, folders or files.
std::string bash_values(const Option& o) {
  if (!o.choices.empty()) return fmt::format("words=\"{}\"", fmt::join(o.choices, " "));
  if (o.value == "FOLDER" || o.value == "RUN") return "kind=-d";
  if (o.value == "FILE" || o.value == "SCENARIO" || o.value == "PATH") return "kind=-f";
  return ":";
}

std::string bash_script() {
  std::string text =
      "# Completion of duskline for bash, written by `duskline completion bash`.\n"
      "_duskline() {\n"
      "  local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} words= kind=\n"
      "  COMPREPLY=()\n"
      "  if ((COMP_CWORD == 1)); then\n";
  text += fmt::format("    words=\"{} --help --version\"\n  else\n    case ${{COMP_WORDS[1]}}:$before in\n",
                      fmt::join(verb_names(), " "));
  for (const Verb& verb : verb_table())
    for (const Option& o : verb.declare().options)
      if (!o.by_place() && !o.value.empty())
        text += fmt::format("      {}:{}) {} ;;\n", verb.name, o.name, bash_values(o));
  text += "      *) case ${COMP_WORDS[1]}:$current in\n";
  for (const Verb& verb : verb_table()) {
    const Arguments arguments = verb.declare();
    std::string names;
    for (const Option& o : arguments.options)
      if (!o.by_place()) names += o.name + " ";
    text += fmt::format("        {}:-*) words=\"{}--help\" ;;\n", verb.name, names);
    const Option* place = first_place(arguments);
    text += fmt::format("        {}:*) {} ;;\n", verb.name, place == nullptr ? ":" : bash_values(*place));
  }
  return text +
         "      esac ;;\n"
         "    esac\n"
         "  fi\n"
         "  if [[ -n $words ]]; then mapfile -t COMPREPLY < <(compgen -W \"$words\" -- \"$current\")\n"
         "  elif [[ -n $kind ]]; then mapfile -t COMPREPLY < <(compgen \"$kind\" -- \"$current\"); fi\n"
         "}\n"
         "complete -o filenames -F _duskline duskline\n";
}

/// Text inside a specification in single quotes.
std::string zsh_text(std::string_view text) {
  std::string out;
  for (const char c : text)
    out += c == '\''                          ? "'\\''"
           : c == '[' || c == ']' || c == ':' ? fmt::format("\\{}", c)
                                              : std::string(1, c);
  return out;
}

std::string zsh_values(const Option& o) {
  if (!o.choices.empty()) return fmt::format("({})", fmt::join(o.choices, " "));
  if (o.value == "FOLDER" || o.value == "RUN") return "_files -/";
  return o.value == "FILE" || o.value == "SCENARIO" || o.value == "PATH" ? "_files" : "";
}

std::string zsh_script() {
  std::string text =
      "#compdef duskline\n"
      "# Completion of duskline for zsh, written by `duskline completion zsh`.\n"
      "_duskline() {\n"
      "  local -a verbs\n"
      "  verbs=(\n";
  for (const Verb& verb : verb_table()) text += fmt::format("    '{}:{}'\n", verb.name, zsh_text(verb.what));
  text +=
      "  )\n"
      "  if ((CURRENT == 2)); then\n"
      "    _describe verb verbs\n"
      "    return\n"
      "  fi\n"
      "  local verb=$words[2]\n"
      "  shift words\n"
      "  ((CURRENT--))\n"
      "  case $verb in\n";
  for (const Verb& verb : verb_table()) {
    text += fmt::format("    {}) _arguments", verb.name);
    for (const Option& o : verb.declare().options) {
      if (o.by_place())
        text += fmt::format(" \\\n        '{}:{}:{}'",
                            o.repeats    ? "*"
                            : o.required ? ""
                                         : ":",
                            zsh_text(o.value), zsh_values(o));
      else
        text += fmt::format(" \\\n        '{}{}[{}]{}'", o.repeats ? "*" : "", o.name, zsh_text(o.meaning),
                            o.value.empty() ? "" : fmt::format(":{}:{}", zsh_text(o.value), zsh_values(o)));
    }
    text += " \\\n        '--help[Print the help]' ;;\n";
  }
  return text +
         "  esac\n"
         "}\n"
         "# Found in fpath, the file is the function and runs at once; sourced, it is registered.\n"
         "if [[ $funcstack[1] == _duskline ]]; then\n"
         "  _duskline \"$@\"\n"
         "else\n"
         "  compdef _duskline duskline\n"
         "fi\n";
}

}  // namespace

std::string completion_script(const std::string& shell) {
  return shell == "zsh" ? zsh_script() : bash_script();
}

}  // namespace duskline::harness
