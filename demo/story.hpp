#pragma once

#include <chrono>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "demo/site.hpp"

namespace oxherd::demo {

/// One line of a story: when, what happens, and what is told about it (may be empty).
struct StoryStep {
  std::chrono::seconds at{0};
  Action action;
  std::string text;
};

/// What is wrong with a line of a story.
struct StoryProblem {
  int line = 0; ///< 1-based
  std::string message;
};

/// Reads a story. One step a line, times not decreasing, '#' starts a comment line:
///   HH:MM:SS VERB [TARGET] [VALUE] [over MINUTES] [: TEXT]
/// Verbs are those of Verb, with dashes. In TEXT, {hPa} is the station pressure, {fall} how far it is below that of the
/// start, and {oxygen ROOM}, {uncorrected DEVICE} are per cent: the truth, and what a cell alone would show.
/// Every name is tried against the site, so that a story that was read can also be played.
[[nodiscard]] tl::expected<std::vector<StoryStep>, StoryProblem> parse_story(std::string_view text);

/// Reads one thing to do at once: a line of a story without its time. Not tried against any site.
[[nodiscard]] tl::expected<Action, std::string> parse_order(std::string_view line);

/// A story that is built in, as text; empty for an unknown name. "larkfield" is the demonstration, about four hours;
/// "quiet" is a day of weather, doors and people without a fault.
[[nodiscard]] std::string_view builtin_story(std::string_view name);

/// The verb and the fault as a story spells them.
[[nodiscard]] std::string_view name_of(Verb verb);
[[nodiscard]] std::string_view name_of(Fault fault);

/// Runs a site through a story.
class Player {
public:
  /// @param site  used until the player is gone
  Player(Site& site, std::vector<StoryStep> steps);
  /// Advances the site, doing each step at exactly its time.
  /// @return the lines to tell, each "[story HH:MM:SS] ..."
  std::vector<std::string> advance(std::chrono::microseconds dt);
  [[nodiscard]] bool at_end() const { return next_ == steps_.size(); }

private:
  [[nodiscard]] std::string tell(const StoryStep& step) const;

  Site* site_;
  std::vector<StoryStep> steps_;
  std::size_t next_ = 0;
  double first_hPa_;
};

} // namespace oxherd::demo
