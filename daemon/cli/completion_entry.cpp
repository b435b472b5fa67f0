#include <algorithm>
#include <array>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "config/nearest.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/completion.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

struct Shell {
  std::string_view name;
  std::string (*script)();
};
constexpr std::array shells{Shell{"bash", bash_completion}, Shell{"zsh", zsh_completion},
                            Shell{"fish", fish_completion}};

/// Nobody waits longer for a suggestion.
constexpr std::chrono::milliseconds suggestion_patience{500};

std::vector<Option> completion_options() {
  return {{"--names", "KIND", "the names the running daemon knows: " + config::listed(kinds_of_names()), "rooms", true,
           kinds_of_names()},
          state_dir_option()};
}

/// Silent but for the exit code when no daemon answers: a person is typing just now.
int print_names(const Arguments& arguments, const std::string& kind, Console& console) {
  const auto kinds = kinds_of_names();
  if (std::ranges::find(kinds, kind) == kinds.end())
    return report(console, "completion",
                  {usage, fmt::format("--names: there is no kind \"{}\"; there is {}", printable(kind),
                                      config::listed_nearest_first(kind, kinds))});
  const auto status = ask(state_dir_of(arguments), {{"command", "status"}}, {.patience = suggestion_patience});
  if (!status) return status.error().exit;
  for (const auto& name : names_in(*status, kind)) console.out << name << '\n';
  return fine;
}

int run_completion(const Arguments& arguments, Console& console) {
  const auto& words = arguments.positional();
  const auto kind = arguments.value("--names");
  if (kind && words.empty()) return print_names(arguments, *kind, console);
  const auto* shell = words.size() == 1 ? std::ranges::find(shells, words.front(), &Shell::name) : shells.end();
  if (kind || shell == shells.end())
    return report(console, "completion", {usage, "name one shell: bash, zsh or fish; or --names KIND alone"});
  console.out << shell->script();
  return fine;
}

} // namespace

const Command completion_entry{
    "completion",
    "a script with which a shell completes what you type",
    "Prints the completion of commands, options, files and names for one shell. An installed oxherd has it where the "
    "shells look. Names of rooms, alarms, sensors and outputs are asked of the running daemon by --names; when none "
    "answers, none is offered and nothing is said.",
    "[bash | zsh | fish]",
    "oxherd completion bash > ~/.local/share/bash-completion/completions/oxherd\n"
    "oxherd completion fish > ~/.config/fish/completions/oxherd.fish\n"
    "oxherd completion --names rooms",
    completion_options,
    run_completion};

} // namespace oxherd::daemon::cli
