#pragma once

#include <string>
#include <vector>

#include "daemon/notify/escalation.hpp"

/// Invented people of the Larkfield site, and a time that a test moves by hand.
namespace oxherd::daemon::notify_test {

using namespace std::chrono_literals;
using alarms::Priority;
using AlarmState = alarms::State;
using notify::Facts;
using notify::Kind;
using notify::Message;

/// Monday 2026-03-02, 10:00 UTC.
inline constexpr WallTime start_wall{std::chrono::sys_days{std::chrono::year{2026} / 3 / 2} + 10h};

inline config::Contact contact(const std::string& name, std::vector<std::string> routes = {"mail"}) {
  return {name, name, std::move(routes), name + "@larkfield.example", {}, std::nullopt};
}
inline config::NotifyRoute mail_route() {
  return {"mail", config::MailRoute{"smtps://mail.larkfield.example:465", "oxherd@larkfield.example", {}, {}, {}}};
}

/// okafor, then finch after 1 min, then everyone (with mori) after 5 min and every 5 min; the other priorities
/// likewise, as the settings have them when nothing is written.
inline config::Notify people() {
  config::Notify settings;
  settings.routes = {mail_route(), {"hook", config::WebhookRoute{"https://hooks.larkfield.example/", false, {}, {}}}};
  settings.contacts = {contact("okafor"), contact("finch", {"mail", "hook"}), contact("mori")};
  settings.ladders[3] = {{{0s, {"okafor"}}, {1min, {"finch"}}, {5min, {"everyone"}}}, 5min, false, false};
  settings.ladders[2] = {{{0s, {"okafor"}}, {5min, {"finch"}}}, std::nullopt, false, false};
  settings.ladders[1] = {{{0s, {"okafor"}}}, std::nullopt, true, false};
  settings.ladders[0] = {{{0s, {"okafor"}}}, std::nullopt, false, true};
  settings.test_every.reset();
  return settings;
}

/// An alarm that stands; a process alarm where it is not critical.
inline Facts standing(const std::string& alarm, Priority priority, const std::string& room = "cryo-annexe") {
  Facts f;
  f.room = room;
  f.alarm = alarm;
  f.state = AlarmState::unacknowledged;
  f.present = true;
  f.priority = priority;
  f.safety = priority == Priority::critical;
  f.raised = start_wall;
  f.text = "LOW OXYGEN " + room + ": 19.29 %, limit 19.5 %. Leave now. Stay out.";
  f.value = 0.1929;
  f.expanded = 0.0013;
  f.limit = 0.195;
  f.unit = "/";
  f.value_text = "19.29 % ± 0.13 % (k = 2)";
  f.limit_text = "19.5 %";
  f.about = notify::About::low_oxygen;
  return f;
}

/// Runs the core as the daemon does: with time and alarms that are given to it.
class Play {
public:
  explicit Play(config::Notify with = people()) : settings{std::move(with)} { state.id_stem = "larkfield-t"; }
  [[nodiscard]] notify::Now now() const { return {mono, start_wall + mono}; }
  std::vector<Message> take(notify::Step step) {
    state = std::move(step.state);
    for (const auto& m : step.messages) all.push_back(m);
    return std::move(step.messages);
  }
  std::vector<Message> say(const Facts& f) { return take(notify::next(settings, state, f, now())); }
  std::vector<Message> become(Facts f, AlarmState s, bool present) {
    f.state = s;
    f.present = present;
    return say(f);
  }
  /// Calls the core as often as it asks to be called.
  std::vector<Message> pass(alarms::Monotonic time) {
    std::vector<Message> made;
    const auto end = mono + time;
    while (mono < end) {
      mono = std::min(end, notify::due(settings, state, now()));
      for (auto& m : take(notify::next(settings, state, now()))) made.push_back(std::move(m));
    }
    return made;
  }
  config::Notify settings;
  notify::State state;
  alarms::Monotonic mono{1h};
  std::vector<Message> all;
};

/// "okafor:alarm finch:returned"
inline std::string told(const std::vector<Message>& messages) {
  std::string out;
  for (const auto& m : messages) out += (out.empty() ? "" : " ") + m.contact + ":" + std::string{name_of(m.kind)};
  return out;
}

} // namespace oxherd::daemon::notify_test
