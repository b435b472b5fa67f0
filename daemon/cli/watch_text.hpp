#pragma once

#include <chrono>
#include <optional>
#include <string>

#include <nlohmann/json.hpp>

#include "daemon/cli/console.hpp"
#include "daemon/cli/status_text.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon::cli {

/// What `oxherd status --watch` knows at one moment. An answer is kept only until the next question fails, so that no
/// old number can be shown as if it held.
struct Watched {
  WallTime begun{};                       ///< when the watch began
  WallTime now{};                         ///< when the daemon was asked last
  std::optional<nlohmann::json> status{}; ///< its answer; empty: none came
  std::string trouble{};                  ///< why none came
  std::optional<WallTime> answered{};     ///< when it answered last
};

/// Takes note of what the question of `now` brought.
void note_answer(Watched& watched, nlohmann::json status, WallTime now);
void note_loss(Watched& watched, std::string trouble, WallTime now);

/// Whether it is time to show what is known: at the first time, after each period, and at once when the daemon has
/// gone or is back.
class ShowTimes {
public:
  explicit ShowTimes(std::chrono::milliseconds period) : period_{period} {}
  [[nodiscard]] bool is_due(bool answers, std::chrono::milliseconds now);

private:
  std::chrono::milliseconds period_;
  std::optional<std::chrono::milliseconds> shown_; ///< on the grid of the first time
  bool answered_ = false;
};

/// One block of lines: which rooms need a person, then the status; or the loss and nothing else.
[[nodiscard]] StatusParts watch_parts(const Console& console, const Watched& watched, Detail detail);
[[nodiscard]] std::string watch_text(const Console& console, const Watched& watched);

/// One line: the answer as `oxherd status --json` has it, or {"error", "last_answer", "now"}.
[[nodiscard]] std::string watch_json(const Watched& watched);

struct ScreenSize {
  std::size_t columns = 80;
  std::size_t rows = 24;
  friend bool operator==(ScreenSize, ScreenSize) = default;
};

/// The block as a screen of that size takes it: lines folded, what does not fit cut from the bottom of the body, which
/// is said. What needs a person stands at the top, and the caution stays as long as there is room for it.
[[nodiscard]] std::string screen_text(const Console& console, const Watched& watched, ScreenSize size);

} // namespace oxherd::daemon::cli
