#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/arguments.hpp"

namespace oxherd::daemon::cli {

/// What a shell offers where a word of the command line is missing.
struct Offer {
  enum class Kind { nothing, words, files, folders, names };
  Kind kind = Kind::nothing;
  std::vector<std::string> words{}; ///< of `words`
  std::string names{};              ///< of `names`: what kind of them the running daemon is asked for
};

/// For the value of an option; a flag takes none.
[[nodiscard]] Offer offer_for(const Option& option);
/// For a word that stands by itself, from its form in the synopsis: "ROOM/ALARM...", "[readings|alarms]".
[[nodiscard]] Offer offer_for_form(std::string_view form);

/// Whether completion offers the option: one that can be typed as it stands.
[[nodiscard]] bool is_offered(const Option& option);

/// The kinds of names that `names_in` knows.
[[nodiscard]] std::vector<std::string> kinds_of_names();

/// Names of that kind in the answer to a status request, each once. Whatever could not be a name is left out: shells
/// get them.
[[nodiscard]] std::vector<std::string> names_in(const nlohmann::json& status, std::string_view kind);

/// The scripts, each made from the catalogue of commands.
[[nodiscard]] std::string bash_completion();
[[nodiscard]] std::string zsh_completion();
[[nodiscard]] std::string fish_completion();

} // namespace oxherd::daemon::cli
