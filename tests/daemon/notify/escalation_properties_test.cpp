#include <gtest/gtest.h>

#include <rapidcheck.h>

#include "tests/daemon/notify/people.hpp"

// Random alarms, acknowledgements and waits; what must hold whatever comes.
namespace oxherd::daemon::notify_test {

/// One alarm as the site would show it, driven by a random choice.
struct Watched {
  Facts facts;
  bool owed = false; ///< annunciated and not acknowledged
  alarms::Monotonic since{0};
};

/// What happens next: to which alarm, what, or how long nothing does.
struct Happening {
  unsigned alarm = 0;
  unsigned what = 0;
  unsigned wait_s = 0;
};

Happening any_happening() {
  Happening h;
  h.alarm = *rc::gen::inRange(0U, 4U);
  h.what = *rc::gen::inRange(0U, 4U);
  h.wait_s = *rc::gen::element(0U, 1U, 7U, 59U, 61U, 200U, 400U);
  return h;
}

bool is_about(const Message& m, const Facts& f) {
  return std::any_of(m.alarms.begin(), m.alarms.end(),
                     [&](const Facts& one) { return one.room == f.room && one.alarm == f.alarm; });
}

/// Brings an alarm into another state that its state machine permits. Returns whether it annunciates anew.
bool change(Watched& w, unsigned what) {
  auto& f = w.facts;
  const auto before = f.state;
  switch (what) {
  case 0: // the condition comes, or is annunciated again
    f.present = true;
    f.state = AlarmState::unacknowledged;
    break;
  case 1: // it ends
    if (!f.present) return false;
    f.present = false;
    f.state =
        before == AlarmState::acknowledged ? AlarmState::latched_acknowledged : AlarmState::latched_unacknowledged;
    break;
  case 2: // a person acknowledges
    if (!w.owed) return false;
    f.state = f.present ? AlarmState::acknowledged : AlarmState::latched_acknowledged;
    w.owed = false;
    return false;
  default: // a person resets
    if (before != AlarmState::latched_acknowledged) return false;
    f.state = AlarmState::normal;
    return false;
  }
  const bool anew = what == 0 && before != AlarmState::unacknowledged;
  w.owed = w.owed || anew;
  return anew;
}

TEST(EscalationProperties, HoldWhateverComesInWhateverOrder) {
  EXPECT_TRUE(rc::check("of alarms, acknowledgements and time", [] {
    Play play;
    std::vector<Watched> all{{standing("low-oxygen", Priority::critical)},
                             {standing("low-oxygen", Priority::critical, "bay-3")},
                             {standing("drift", Priority::high)},
                             {standing("humid", Priority::high)}};
    for (auto& w : all) {
      w.facts.state = AlarmState::normal;
      w.facts.present = false;
    }
    const auto count = *rc::gen::inRange<std::size_t>(1, 40);
    std::map<std::string, alarms::Monotonic> last_merged;
    const auto judge = [&](const std::vector<Message>& made) {
      for (const auto& m : made) {
        RC_ASSERT(!m.alarms.empty());
        for (const auto& f : m.alarms) // nothing after an acknowledgement but that the condition ended
          if (f.state != AlarmState::acknowledged && f.state != AlarmState::latched_acknowledged &&
              f.state != AlarmState::normal)
            RC_ASSERT(std::any_of(all.begin(), all.end(), [&](const Watched& w) {
              return w.owed && w.facts.room == f.room && w.facts.alarm == f.alarm;
            }));
        RC_ASSERT(m.alarms.front().state != AlarmState::acknowledged);
        if (cannot_wait(m)) {
          RC_ASSERT(m.alarms.size() == 1U); // never merged
          continue;
        }
        const auto at = std::chrono::duration_cast<alarms::Monotonic>(m.at - start_wall);
        const auto before = last_merged.find(m.contact);
        // Apart from the assertion, which evaluates both sides of "or" for its message.
        const bool apart = before == last_merged.end() || at - before->second >= play.settings.merge_within;
        RC_ASSERT(apart);
        last_merged[m.contact] = at;
      }
    };
    for (std::size_t i = 0; i < count; ++i) {
      const auto h = any_happening();
      auto& w = all[h.alarm];
      const bool was_owed = w.owed;
      const bool anew = change(w, h.what);
      if (anew && !was_owed) w.since = play.mono;
      const auto made = play.say(w.facts);
      judge(made);
      if (anew && h.alarm < 2) // critical: its first step is due at once, whoever else was told meanwhile
        RC_ASSERT(std::any_of(made.begin(), made.end(), [&](const Message& m) {
          return m.contact == "okafor" && m.kind == Kind::alarm && is_about(m, w.facts);
        }));
      for (unsigned s = 0; s < h.wait_s; s += 20) {
        judge(play.pass(std::chrono::seconds{std::min(20U, h.wait_s - s)}));
        for (std::size_t a = 0; a < 2; ++a) { // no critical alarm stands for its step's time without the next person
          const auto& c = all[a];
          if (!c.owed || play.mono - c.since < 62s) continue;
          RC_ASSERT(std::any_of(play.all.begin(), play.all.end(), [&](const Message& m) {
            return m.contact == "finch" && is_about(m, c.facts) && m.at >= start_wall + c.since;
          }));
        }
      }
    }
    std::set<std::string> ids;
    for (const auto& m : play.all) RC_ASSERT(ids.insert(m.id).second);
  }));
}

} // namespace oxherd::daemon::notify_test
