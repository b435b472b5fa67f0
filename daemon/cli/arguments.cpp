#include "daemon/cli/arguments.hpp"

#include <algorithm>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "config/nearest.hpp"
#include "daemon/cli/text.hpp"

// The only file that includes CLI11: it takes seconds to compile.

namespace oxherd::daemon::cli {
namespace {

/// Splits "--name=value"; the value is absent without "=".
std::pair<std::string, std::optional<std::string>> split_word(const std::string& word) {
  const auto equals = word.find('=');
  if (equals == std::string::npos) return {word, std::nullopt};
  return {word.substr(0, equals), word.substr(equals + 1)};
}

/// A word that can only be an option, never a value: a dash that no number follows.
bool looks_like_option(const std::string& word) {
  return word.size() > 1 && word[0] == '-' && std::string_view{"0123456789."}.find(word[1]) == std::string_view::npos;
}

std::string missing_value(const Option& option) {
  if (option.example.empty()) return fmt::format("{} needs a value: {}", option.name, option.help);
  return fmt::format("{} needs a value such as \"{}\"", option.name, option.example);
}

std::string unknown_option(const std::vector<Option>& options, const std::string& name) {
  std::vector<std::string> names;
  for (const auto& option : options) names.push_back(option.name);
  const auto meant = config::nearest(name, names);
  const auto hint = meant ? fmt::format("did you mean {}?", *meant) : std::string{"--help lists what there is"};
  return fmt::format("there is no option {}; {}", printable(name), hint);
}

/// What the library would take without a word: an option swallowed as the value of the one before it, an empty value,
/// an option given twice, a value for a flag. It also reports a mistyped option only after others that are missing.
std::optional<std::string> trouble_in(const std::vector<Option>& options, const std::vector<std::string>& words) {
  std::vector<std::string> seen;
  for (std::size_t i = 0; i < words.size() && words[i] != "--"; ++i) {
    if (!looks_like_option(words[i])) continue;
    const auto [name, value] = split_word(words[i]);
    const auto found = std::ranges::find(options, name, &Option::name);
    if (found == options.end()) return unknown_option(options, name);
    if (std::ranges::find(seen, name) != seen.end()) return fmt::format("{} is given twice", name);
    seen.push_back(name);
    if (found->value.empty()) {
      if (value) return fmt::format("{} takes no value", name);
      continue;
    }
    if (value ? value->empty() : i + 1 >= words.size() || looks_like_option(words[i + 1])) return missing_value(*found);
    if (!value) ++i; // the next word is the value
  }
  return std::nullopt;
}

} // namespace

std::optional<std::string> Arguments::value(std::string_view name) const {
  const auto found = values_.find(name);
  return found == values_.end() ? std::nullopt : std::optional{found->second};
}

std::string Arguments::value_or(std::string_view name, std::string_view otherwise) const {
  return value(name).value_or(std::string{otherwise});
}

tl::expected<Arguments, std::string> parse_arguments(const std::vector<Option>& options,
                                                     std::string_view positional_word,
                                                     const std::vector<std::string>& words) {
  if (const auto trouble = trouble_in(options, words)) return tl::unexpected(*trouble);
  CLI::App app;
  app.set_help_flag();
  app.allow_extras();
  std::map<std::string, std::string> texts;
  std::map<std::string, bool> flags;
  for (const auto& option : options) {
    if (option.value.empty())
      app.add_flag(option.name, flags[option.name]);
    else
      app.add_option(option.name, texts[option.name]);
  }
  try {
    app.parse(std::vector<std::string>{words.rbegin(), words.rend()}); // it takes the words from the back
  } catch (const CLI::Error& error) {
    return tl::unexpected(std::string{error.what()});
  }
  Arguments out;
  for (const auto& option : options) {
    if (app.count(option.name) == 0) continue;
    out.set(option.name, option.value.empty() ? "" : texts[option.name]);
  }
  for (const auto& word : app.remaining()) {
    if (word == "--") continue;
    if (positional_word.empty())
      return tl::unexpected(fmt::format("\"{}\" is one word too many; --help shows the form", printable(word)));
    out.add_positional(word);
  }
  return out;
}

std::optional<InRoom> in_room(std::string_view word) {
  const auto slash = word.find('/');
  if (slash == std::string_view::npos || slash == 0 || slash + 1 == word.size()) return std::nullopt;
  return InRoom{std::string{word.substr(0, slash)}, std::string{word.substr(slash + 1)}};
}

} // namespace oxherd::daemon::cli
