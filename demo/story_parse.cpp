#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <sstream>

#include "demo/story.hpp"

namespace oxherd::demo {
namespace {

constexpr std::array all_verbs{Verb::say,
                               Verb::barometer,
                               Verb::outdoor_temperature,
                               Verb::outdoor_humidity,
                               Verb::temperature,
                               Verb::humidity,
                               Verb::ventilation,
                               Verb::leak,
                               Verb::purge,
                               Verb::dosing,
                               Verb::people,
                               Verb::door,
                               Verb::relief_isolated,
                               Verb::gas,
                               Verb::no_gas,
                               Verb::fault};
constexpr std::array all_faults{Fault::none,   Fault::disconnected, Fault::worn, Fault::dead,
                                Fault::silent, Fault::refusing,     Fault::stuck};

template <class All> auto find_named(const All& all, std::string_view name) {
  std::optional<typename All::value_type> found;
  for (const auto each : all)
    if (name_of(each) == name) found = each;
  return found;
}

std::optional<double> to_number(std::string_view text) {
  double value = 0.0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  const bool whole = failure == std::errc{} && end == text.data() + text.size();
  if (!whole || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::optional<std::chrono::seconds> to_time(std::string_view text) {
  if (text.size() != 8 || text[2] != ':' || text[5] != ':') return std::nullopt;
  const auto hours = to_number(text.substr(0, 2));
  const auto minutes = to_number(text.substr(3, 2));
  const auto seconds = to_number(text.substr(6, 2));
  if (!hours || !minutes || !seconds || *hours < 0 || *minutes < 0 || *minutes >= 60 || *seconds < 0 || *seconds >= 60)
    return std::nullopt;
  return std::chrono::seconds{static_cast<int>(*hours) * 3600 + static_cast<int>(*minutes) * 60 +
                              static_cast<int>(*seconds)};
}

std::vector<std::string> words_in(std::string_view text) {
  std::istringstream stream{std::string{text}};
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

bool has_target(Verb verb) {
  return verb != Verb::say && verb != Verb::barometer && verb != Verb::outdoor_temperature &&
         verb != Verb::outdoor_humidity;
}
bool may_take_time(Verb verb) { return verb != Verb::say && !has_target(verb); }

/// Verb, target, value and duration: the words from `next` on.
tl::expected<Action, std::string> parse_action(const std::vector<std::string>& words, std::size_t next) {
  const std::string name = next < words.size() ? words[next++] : std::string{};
  const auto verb = find_named(all_verbs, name);
  if (!verb) return tl::unexpected("unknown verb \"" + name + "\"");
  Action action{.verb = *verb};
  const auto take = [&] { return next < words.size() ? words[next++] : std::string{}; };
  if (has_target(*verb)) action.target = take();
  if (*verb == Verb::fault) {
    const std::string text = take();
    const auto fault = find_named(all_faults, text);
    if (!fault) return tl::unexpected("unknown fault \"" + text + "\"");
    action.fault = *fault;
  } else if (*verb != Verb::say && *verb != Verb::no_gas) {
    const std::string text = take();
    const auto value = to_number(text);
    if (!value) return tl::unexpected("\"" + text + "\" is not a number");
    action.value = *value;
  }
  if (may_take_time(*verb) && next < words.size() && words[next] == "over") {
    ++next;
    const std::string text = take();
    const auto minutes = to_number(text);
    if (!minutes || *minutes < 0) return tl::unexpected("\"over\" takes minutes, not \"" + text + "\"");
    action.over_s = *minutes * 60.0;
  }
  if (next != words.size()) return tl::unexpected("\"" + words[next] + "\" is one word too many");
  return action;
}

/// The part of a line before its text: a time and what happens then.
tl::expected<StoryStep, std::string> parse_step(const std::vector<std::string>& words) {
  const auto at = words.empty() ? std::nullopt : to_time(words[0]);
  if (!at) return tl::unexpected(std::string{"a line starts with a time such as 00:12:30"});
  auto action = parse_action(words, 1);
  if (!action) return tl::unexpected(action.error());
  return StoryStep{*at, std::move(*action), {}};
}

} // namespace

tl::expected<Action, std::string> parse_order(std::string_view line) { return parse_action(words_in(line), 0); }

tl::expected<std::vector<StoryStep>, StoryProblem> parse_story(std::string_view text) {
  std::istringstream lines{std::string{text}};
  std::vector<StoryStep> steps;
  Site trial{1};
  int number = 0;
  for (std::string line; std::getline(lines, line);) {
    ++number;
    if (line.find_first_not_of(" \t\r") == std::string::npos || line[line.find_first_not_of(" \t")] == '#') continue;
    const auto colon = line.find(" : "); // spaces around it: times hold colons too
    auto step = parse_step(words_in(std::string_view{line}.substr(0, colon)));
    if (!step) return tl::unexpected(StoryProblem{number, step.error()});
    if (colon != std::string::npos) step->text = line.substr(colon + 3);
    if (!steps.empty() && step->at < steps.back().at)
      return tl::unexpected(StoryProblem{number, "times must not go backwards"});
    if (const auto done = trial.apply(step->action); !done) return tl::unexpected(StoryProblem{number, done.error()});
    steps.push_back(std::move(*step));
  }
  return steps;
}

} // namespace oxherd::demo
