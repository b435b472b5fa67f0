#include "daemon/cli/watch.hpp"

#include <algorithm>
#include <optional>

#include <nlohmann/json.hpp>
#include <poll.h>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/screen.hpp"
#include "daemon/cli/watch_text.hpp"
#include "daemon/clock.hpp"

namespace oxherd::daemon::cli {
namespace {

using std::chrono::milliseconds;

constexpr milliseconds asked_again_after{1000};
/// A daemon that lets a question wait longer is as good as gone; it answers within milliseconds.
constexpr milliseconds watch_patience{2000};
constexpr milliseconds look_around_after{100}; // for an interrupt, or another size of the window

/// One question.
int ask_again(const std::filesystem::path& state_dir, Watched& watched) {
  auto answer = ask(state_dir, {{"command", "status"}}, {.patience = watch_patience});
  if (answer)
    note_answer(watched, std::move(*answer), wall_now());
  else
    note_loss(watched, answer.error().what, wall_now());
  return answer ? fine : answer.error().exit;
}

/// Waits until then, or an interrupt; draws anew when the window has changed.
void wait_watching(alarms::Monotonic end, const Console& console, const Watched& watched, std::optional<Screen>& screen,
                   ScreenSize& size) {
  for (auto left = end - monotonic_now(); !InterruptGuard::interrupted() && left.count() > 0;
       left = end - monotonic_now()) {
    poll(nullptr, 0, static_cast<int>(std::min(left, look_around_after).count()));
    if (!screen || Screen::size() == size) continue;
    size = Screen::size();
    screen->draw(screen_text(console, watched, size));
  }
}

} // namespace

int watch_status(const WatchAsked& asked, Console& console) {
  const InterruptGuard guard;
  std::optional<Screen> screen;
  if (console.redraws && !asked.json) screen.emplace(console.out);
  Watched watched{.begun = wall_now()};
  ShowTimes times{asked.every};
  ScreenSize size = Screen::size();
  bool first = true;
  auto next = monotonic_now(); // when this question was due: however long answers take, periods do not slip
  int outcome = fine;
  while (!InterruptGuard::interrupted() && console.out.good()) {
    outcome = ask_again(asked.state_dir, watched);
    if (times.is_due(watched.status.has_value(), next)) {
      if (screen)
        screen->draw(screen_text(console, watched, size));
      else if (asked.json)
        console.out << watch_json(watched) << std::flush;
      else
        console.out << (first ? "" : "\n") << watch_text(console, watched) << std::flush;
      first = false;
    }
    next = std::max(next + asked_again_after, monotonic_now()); // a grid, unless an answer took longer
    wait_watching(next, console, watched, screen, size);
  }
  return outcome;
}

} // namespace oxherd::daemon::cli
