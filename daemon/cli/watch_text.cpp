#include "daemon/cli/watch_text.hpp"

#include <algorithm>
#include <utility>
#include <vector>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

double seconds_between(WallTime from, WallTime to) { return static_cast<double>((to - from).count()) / 1e3; }

std::string loss_text(const Console& console, const Watched& watched) {
  const auto since = watched.answered.value_or(watched.begun);
  const std::string_view last = watched.answered
                                    ? "{} was the last answer, {} ago. What was shown then is taken away: it is old."
                                    : "None since the watch began at {}, {} ago.";
  return stressed(console, Stress::alarm,
                  fmt::format("NO ANSWER from the daemon, {}: treat the air of every room as unknown.",
                              rfc3339_local(watched.now))) +
         '\n' +
         fmt::format(fmt::runtime(last), rfc3339_local(since), duration_text(seconds_between(since, watched.now))) +
         '\n' + printable(watched.trouble) + '\n';
}

std::vector<std::string> screen_lines(const std::string& text, std::size_t columns) {
  std::vector<std::string> out;
  for (std::size_t from = 0; from < text.size();) {
    const auto end = std::min(text.find('\n', from), text.size());
    const auto lines = folded(std::string_view{text}.substr(from, end - from), columns);
    for (std::size_t at = 0; at <= lines.size();) {
      const auto stop = std::min(lines.find('\n', at), lines.size());
      out.push_back(lines.substr(at, stop - at));
      at = stop + 1;
    }
    from = end + 1;
  }
  return out;
}

struct ScreenParts {
  std::vector<std::string> head, body, foot;
  [[nodiscard]] std::size_t size() const { return head.size() + body.size() + foot.size(); }
};

ScreenParts screen_parts(const StatusParts& parts, std::size_t columns) {
  return {screen_lines(parts.head + '\n', columns), screen_lines(parts.body + '\n', columns),
          screen_lines(wrapped(alarms::caution_short(), std::min<std::size_t>(columns, 100), 0), columns)};
}

/// Cuts the bottom of the body, then the caution: what needs a person stands above.
void cut(ScreenParts& parts, ScreenSize screen, bool colour) {
  if (parts.size() <= screen.rows) return;
  if (parts.head.size() + parts.foot.size() >= screen.rows) parts.foot.clear();
  parts.head.resize(std::min(parts.head.size(), screen.rows));
  const auto left = screen.rows - parts.head.size() - parts.foot.size();
  const auto notice = [&](std::size_t kept) {
    const auto lost = counted(parts.body.size() - kept, "line");
    return screen_lines(fmt::format("... {} below: make the window taller", lost), screen.columns);
  };
  std::size_t kept = std::min(left, parts.body.size());
  while (kept > 0 && kept + notice(kept).size() > left) --kept;
  auto said = notice(kept);
  said.resize(std::min(said.size(), left - kept));
  // A colour that begins in a line that is kept may end in one that is not.
  if (colour && !said.empty()) said.front().insert(0, "\x1b[0m");
  parts.body.resize(kept);
  parts.body.insert(parts.body.end(), said.begin(), said.end());
}

} // namespace

void note_answer(Watched& watched, nlohmann::json status, WallTime now) {
  watched.now = now;
  watched.answered = now;
  watched.status = std::move(status);
  watched.trouble.clear();
}

void note_loss(Watched& watched, std::string trouble, WallTime now) {
  watched.now = now;
  watched.status.reset();
  watched.trouble = std::move(trouble);
}

bool ShowTimes::is_due(bool answers, std::chrono::milliseconds now) {
  const bool turned = !shown_ || answers != answered_;
  answered_ = answers;
  if (!shown_) shown_ = now;
  const bool over = now - *shown_ >= period_;
  if (over) *shown_ += (now - *shown_) / period_ * period_;
  return turned || over;
}

StatusParts watch_parts(const Console& console, const Watched& watched, Detail detail) {
  if (!watched.status) return {loss_text(console, watched), "", wrapped(alarms::caution_short(), 100, 0) + '\n'};
  auto parts = status_parts(console, *watched.status, detail);
  parts.head.insert(0, attention_line(console, *watched.status));
  return parts;
}

std::string watch_text(const Console& console, const Watched& watched) {
  const auto parts = watch_parts(console, watched, Detail::full);
  return parts.head + '\n' + parts.body + (parts.body.empty() ? "" : "\n") + parts.foot;
}

std::string watch_json(const Watched& watched) {
  if (watched.status) return json_text_of(*watched.status);
  nlohmann::json out{{"error", watched.trouble}, {"last_answer", nullptr}, {"now", rfc3339(watched.now)}};
  if (watched.answered) out["last_answer"] = rfc3339(*watched.answered);
  return json_text_of(out);
}

std::string screen_text(const Console& console, const Watched& watched, ScreenSize size) {
  // A line that fills the last column leaves the cursor where terminals differ.
  const auto columns = std::max<std::size_t>(size.columns, 11) - 1;
  auto parts = screen_parts(watch_parts(console, watched, Detail::full), columns);
  if (parts.size() > size.rows) parts = screen_parts(watch_parts(console, watched, Detail::brief), columns);
  cut(parts, {columns, size.rows}, console.colour);
  std::string out;
  for (const auto* lines : {&parts.head, &parts.body, &parts.foot})
    for (const auto& line : *lines) out += line + '\n';
  return out;
}

} // namespace oxherd::daemon::cli
