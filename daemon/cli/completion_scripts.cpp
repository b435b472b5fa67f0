#include <fmt/core.h>

#include "daemon/cli/commands.hpp"
#include "daemon/cli/completion.hpp"

namespace oxherd::daemon::cli {
namespace {

using Kind = Offer::Kind;

/// In single quotes, for bash and zsh.
std::string shell_quoted(std::string_view text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' ? std::string{"'\\''"} : std::string{c};
  return out + "'";
}

/// In single quotes, for fish.
std::string fish_quoted(std::string_view text) {
  std::string out = "'";
  for (const char c : text) {
    if (c == '\'' || c == '\\') out += '\\';
    out += c;
  }
  return out + "'";
}

std::string joined_words(const std::vector<std::string>& words) {
  std::string out;
  for (const auto& word : words) out += (out.empty() ? "" : " ") + word;
  return out;
}

/// What the scripts of bash and zsh understand: "files", "folders", "names KIND", or the words after "words".
std::string offer_text(const Offer& offer) {
  switch (offer.kind) {
  case Kind::nothing: return "";
  case Kind::words: return "words " + joined_words(offer.words);
  case Kind::files: return "files";
  case Kind::folders: return "folders";
  case Kind::names: return "names " + offer.names;
  }
  return "";
}

/// Two functions that bash and zsh share: what follows an option, and which options there are.
std::string catalogue_functions() {
  std::string offers, options, names;
  for (const auto* command : commands()) {
    const std::string name{command->name};
    names += fmt::format("  echo {}\n", shell_quoted(fmt::format("{}:{}", name, command->line)));
    offers += fmt::format("    {}) echo {} ;;\n", shell_quoted(name + " "),
                          shell_quoted(offer_text(offer_for_form(command->positional))));
    options += fmt::format("    {})\n", name);
    for (const auto& option : command->options()) {
      if (!is_offered(option)) continue;
      options += fmt::format("      echo {}\n", shell_quoted(fmt::format("{}:{}", option.name, option.help)));
      if (option.value.empty()) continue;
      offers += fmt::format("    {}) echo {} ;;\n", shell_quoted(name + ' ' + option.name),
                            shell_quoted(offer_text(offer_for(option))));
    }
    options += "      ;;\n";
  }
  return "_oxherd_commands() {\n" + names + "}\n\n" +
         "# What comes after an option of a command, or, without one, as a word by itself. Fails when nothing does.\n"
         "_oxherd_offer() {\n  case \"$1 $2\" in\n" +
         offers + "    *) return 1 ;;\n  esac\n}\n\n" + "_oxherd_options() {\n  case \"$1\" in\n" + options +
         "  esac\n  echo '--help:show what the command takes'\n}\n\n";
}

constexpr std::string_view bash_main =
    R"script(# Adds to COMPREPLY what begins with the word; nothing is expanded or run of what comes in.
_oxherd_reply() {
  local line
  while IFS= read -r line; do
    line=${line%%:*}
    [[ -n $line && $line == "$1"* ]] && COMPREPLY+=("$line")
  done
}

_oxherd() {
  COMPREPLY=()
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}
  local command=${COMP_WORDS[1]} offer i
  local -a state_dir=()
  # "--room=cryo" comes in three words.
  if [[ $word == = ]]; then word=; elif [[ $before == = ]]; then before=${COMP_WORDS[COMP_CWORD-2]}; fi
  if ((COMP_CWORD == 1)); then
    _oxherd_reply "$word" < <(_oxherd_commands; printf '%s\n' --help --version)
    return
  fi
  if [[ $before == -* ]] && offer=$(_oxherd_offer "$command" "$before"); then :
  elif [[ $word == -* ]]; then
    _oxherd_reply "$word" < <(_oxherd_options "$command")
    return
  else offer=$(_oxherd_offer "$command" '')
  fi
  case $offer in
    files) compopt -o filenames 2>/dev/null; mapfile -t COMPREPLY < <(compgen -f -- "$word") ;;
    folders) compopt -o filenames 2>/dev/null; mapfile -t COMPREPLY < <(compgen -d -- "$word") ;;
    'names '*)
      for ((i = 2; i < COMP_CWORD; ++i)); do
        [[ ${COMP_WORDS[i]} == --state-dir ]] || continue
        [[ ${COMP_WORDS[i+1]} == = ]] && ((++i))
        state_dir=(--state-dir "${COMP_WORDS[i+1]/#\~\//$HOME/}")
      done
      _oxherd_reply "$word" < <("${COMP_WORDS[0]/#\~\//$HOME/}" completion --names "${offer#names }" "${state_dir[@]}" 2>/dev/null)
      ;;
    'words '*) _oxherd_reply "$word" < <(tr ' ' '\n' <<<"${offer#words }") ;;
  esac
}
complete -F _oxherd oxherd
)script";

constexpr std::string_view zsh_main = R"script(_oxherd() {
  local word=${words[CURRENT]} before=${words[CURRENT-1]} command=${words[2]} offer
  local -a found state_dir
  local -i i
  if (( CURRENT == 2 )); then
    found=("${(@f)$(_oxherd_commands)}")
    _describe -t commands command found
    [[ $word == -* ]] && compadd -- --help --version
    return
  fi
  if [[ $word == --*=* ]]; then
    before=${word%%=*}
    compset -P '*='
  fi
  if [[ $before == -* ]] && offer=$(_oxherd_offer "$command" "$before"); then :
  elif [[ $word == -* ]]; then
    found=("${(@f)$(_oxherd_options "$command")}")
    _describe -o -t options option found
    return
  else offer=$(_oxherd_offer "$command" '')
  fi
  case $offer in
    files) _files ;;
    folders) _files -/ ;;
    'names '*)
      for (( i = 3; i < CURRENT; ++i )); do
        case ${words[i]} in
          --state-dir) state_dir=(--state-dir "${words[i+1]/#\~\//$HOME/}") ;;
          --state-dir=*) state_dir=(--state-dir "${${words[i]#--state-dir=}/#\~\//$HOME/}") ;;
        esac
      done
      found=("${(@f)$("${words[1]/#\~\//$HOME/}" completion --names "${offer#names }" "${state_dir[@]}" 2>/dev/null)}")
      compadd -- ${found:#}
      ;;
    'words '*) compadd -- ${=offer#words } ;;
  esac
}

# Loaded by the completion system on first use, or read by a start-up file.
if [[ $funcstack[1] == _oxherd ]]; then _oxherd "$@"; else compdef _oxherd oxherd; fi
)script";

constexpr std::string_view fish_main =
    R"script(function __oxherd_is --description 'whether that command stands on the line'
    set -l typed (commandline -opc)
    test (count $typed) -gt 1; and test "$typed[2]" = $argv[1]
end

function __oxherd_starts --description 'whether no command stands on the line'
    test (count (commandline -opc)) -eq 1
end

function __oxherd_names --description 'names that the running daemon knows'
    set -l typed (commandline -opc)
    set -l where
    if set -l at (contains -i -- --state-dir $typed)
        set where --state-dir (string replace -r '^~/' "$HOME/" -- $typed[(math $at + 1)])
    else if set -l given (string replace -rf '^--state-dir=(~/)?' '--state-dir=' -- $typed)
        set where $given[1]
    end
    set -l program (string replace -r '^~/' "$HOME/" -- $typed[1])
    command $program completion --names $argv[1] $where 2>/dev/null
end

complete -c oxherd -f
complete -c oxherd -n __oxherd_starts -l help -d 'what there is'
complete -c oxherd -n __oxherd_starts -l version -d 'the version'
)script";

/// The arguments of fish's `complete` for what may be typed there.
std::string fish_offer(const Offer& offer) {
  switch (offer.kind) {
  case Kind::nothing: return "";
  case Kind::words: return " -a " + fish_quoted(joined_words(offer.words));
  case Kind::files: return " -F";
  case Kind::folders: return " -a '(__fish_complete_directories)'";
  case Kind::names: return fmt::format(" -a '(__oxherd_names {})'", offer.names);
  }
  return "";
}

std::string fish_lines(const Command& command) {
  const auto here = fmt::format("complete -c oxherd -n '__oxherd_is {}'", command.name);
  std::string out =
      fmt::format("\ncomplete -c oxherd -n __oxherd_starts -a {} -d {}\n", command.name, fish_quoted(command.line));
  const auto free = offer_for_form(command.positional);
  if (free.kind != Kind::nothing) out += here + fish_offer(free) + '\n';
  for (const auto& option : command.options()) {
    if (!is_offered(option)) continue;
    const bool is_long = option.name.starts_with("--");
    out += fmt::format("{} -{} {}", here, is_long ? "l" : "s", option.name.substr(is_long ? 2 : 1));
    const auto offer = offer_for(option);
    if (!option.value.empty()) out += (offer.kind == Kind::files ? " -r" : " -x") + fish_offer(offer);
    out += " -d " + fish_quoted(option.help) + '\n';
  }
  return out + here + " -l help -d 'show what the command takes'\n";
}

} // namespace

std::string bash_completion() {
  return "# Completion of oxherd for bash, printed by `oxherd completion bash`.\n\n" + catalogue_functions() +
         std::string{bash_main};
}

std::string zsh_completion() {
  return "#compdef oxherd\n# Completion of oxherd for zsh, printed by `oxherd completion zsh`.\n\n" +
         catalogue_functions() + std::string{zsh_main};
}

std::string fish_completion() {
  std::string out =
      "# Completion of oxherd for fish, printed by `oxherd completion fish`.\n\n" + std::string{fish_main};
  for (const auto* command : commands()) out += fish_lines(*command);
  return out;
}

} // namespace oxherd::daemon::cli
