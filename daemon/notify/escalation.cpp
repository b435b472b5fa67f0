#include "daemon/notify/escalation.hpp"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

namespace oxherd::daemon::notify {
namespace {

using AlarmState = alarms::State;

/// Of one alarm: enough for everyone a site can have, a few times over.
constexpr std::size_t sent_max = 200;
constexpr std::size_t digest_max = 500;
/// Rotas, working hours and quiet hours are looked at again at least this often.
constexpr Monotonic wall_look{std::chrono::seconds{20}};

bool waits_for_a_person(AlarmState s) {
  return s == AlarmState::unacknowledged || s == AlarmState::latched_unacknowledged ||
         s == AlarmState::returned_to_normal_unacknowledged;
}
bool is_hidden(AlarmState s) {
  return s == AlarmState::shelved || s == AlarmState::suppressed_by_design || s == AlarmState::out_of_service;
}

const config::Contact* contact_named(const config::Notify& settings, const std::string& name) {
  const auto found = std::find_if(settings.contacts.begin(), settings.contacts.end(),
                                  [&](const config::Contact& c) { return c.name == name; });
  return found == settings.contacts.end() ? nullptr : &*found;
}

void add_once(std::vector<std::string>& names, const std::string& name) {
  if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
}

/// One call of `next`: the state it changes and the messages it makes.
class Turn {
public:
  Turn(const config::Notify& settings, notify::State state, Now now)
      : settings_{settings}, s_{std::move(state)}, now_{now} {}

  void take(const Facts& taken);
  void remove(const notify::State::Key& key);
  void pass_time();
  void test(const RouteTests::Key& key);
  void tell_trouble(const std::string& words, const std::string& not_by);
  Step done() && { return {std::move(s_), std::move(messages_)}; }

private:
  [[nodiscard]] bool may_wait_for_hours(const config::Ladder& ladder, const Facts& f) const {
    return ladder.working_hours && !cannot_wait(f) &&
           !config::is_within(settings_.working_hours, config::local_minutes(settings_.zone, now_.wall));
  }
  [[nodiscard]] bool is_digest(const Facts& f) const {
    return settings_.ladder(f.priority).daily_digest && !cannot_wait(f);
  }
  void begin(const Facts& f, std::vector<Sent> sent_before);
  void climb(Climb& one);
  void tell_informed(Climb& one, Kind kind);
  void tell(Climb& one, const std::string& contact, Kind kind, unsigned step);
  void forget_waiting(const Facts& f);
  void flush_waiting();
  void flush(const std::string& contact);
  void digest();
  void test_routes();
  Message& message(Kind kind, const std::string& contact);
  void note_sent(const Message& m);

  const config::Notify& settings_;
  notify::State s_;
  Now now_;
  std::vector<Message> messages_;
};

Message& Turn::message(Kind kind, const std::string& contact) {
  Message m;
  m.number = ++s_.last_number;
  m.id = fmt::format("{}-{}", s_.id_stem, m.number);
  m.kind = kind;
  m.contact = contact;
  m.at = now_.wall;
  messages_.push_back(std::move(m));
  return messages_.back();
}

/// Adds what went to this contact before to the message, and the message to what went.
void Turn::note_sent(const Message& m) {
  for (const auto& f : m.alarms) {
    const auto found = s_.climbs.find({f.room, f.alarm});
    if (found == s_.climbs.end()) continue;
    auto& sent = found->second.sent;
    sent.push_back({m.contact, m.id, m.at});
    if (sent.size() > sent_max) sent.erase(sent.begin());
  }
}

void Turn::tell(Climb& one, const std::string& contact, Kind kind, unsigned step) {
  if (!cannot_wait(one.facts)) {
    s_.waiting.push_back({contact, kind, one.facts, step});
    return;
  }
  auto& m = message(kind, contact);
  m.step = step;
  m.alarms = {one.facts};
  for (const auto& before : one.sent)
    if (before.contact == contact) m.earlier.push_back(before);
  note_sent(m);
}

void Turn::tell_informed(Climb& one, Kind kind) {
  std::vector<std::string> informed;
  for (const auto& sent : one.sent) add_once(informed, sent.contact);
  for (const auto& w : s_.waiting)
    if (w.kind == Kind::alarm && are_of_one_alarm(w.facts, one.facts)) add_once(informed, w.contact);
  for (const auto& contact : informed) tell(one, contact, kind, 0);
}

void Turn::forget_waiting(const Facts& f) {
  std::erase_if(s_.waiting, [&](const Waiting& w) { return w.kind == Kind::alarm && are_of_one_alarm(w.facts, f); });
}

void Turn::begin(const Facts& f, std::vector<Sent> sent_before) {
  auto& one = s_.climbs[{f.room, f.alarm}];
  one = Climb{};
  one.facts = f;
  one.since = one.last_step = now_.mono;
  one.return_told = !f.present; // found after its condition had ended: nobody was told that it stood
  one.sent = std::move(sent_before);
  if (!is_digest(f)) return climb(one);
  if (s_.digest.size() < digest_max) s_.digest.push_back(f);
}

void Turn::take(const Facts& taken) {
  Facts f = taken;
  const notify::State::Key key{f.room, f.alarm};
  const auto found = s_.climbs.find(key);
  // The end of what a test raised is of the test too.
  if (found != s_.climbs.end() && !f.present) f.test = f.test || found->second.facts.test;
  for (auto& w : s_.waiting) { // what waits tells how things are when it is sent
    if (!are_of_one_alarm(w.facts, f)) continue;
    auto text = f.text.empty() ? std::move(w.facts.text) : f.text;
    w.facts = f;
    w.facts.text = std::move(text);
  }
  if (waits_for_a_person(f.state)) {
    if (found == s_.climbs.end()) return begin(f, {});
    auto& one = found->second;
    if (one.answered || (one.facts.test && !f.test)) return begin(f, std::move(one.sent));
    const bool recurs = one.return_told && f.present && !one.facts.present;
    one.facts = f;
    if (recurs) { // nobody has answered, so the ladder is not begun anew: that would put off the next person
      one.return_told = false;
      tell_informed(one, Kind::alarm);
    }
    if (!f.present && !one.return_told && !f.chattering) {
      one.return_told = true;
      tell_informed(one, Kind::returned);
    }
    return;
  }
  if (found == s_.climbs.end()) return;
  auto& one = found->second;
  one.facts = f;
  const bool over = f.state == AlarmState::normal;
  if (is_hidden(f.state)) {
    tell_informed(one, Kind::hidden);
    forget_waiting(f);
    s_.climbs.erase(found);
    return;
  }
  if (!over) { // acknowledged, or acknowledged and latched
    one.answered = true;
    forget_waiting(f);
  }
  if (!f.present && !one.return_told) {
    one.return_told = true;
    tell_informed(one, Kind::returned);
  }
  if (over) s_.climbs.erase(key);
}

void Turn::remove(const notify::State::Key& key) {
  s_.climbs.erase(key);
  std::erase_if(s_.waiting, [&](const Waiting& w) { return w.facts.room == key.first && w.facts.alarm == key.second; });
}

void Turn::climb(Climb& one) {
  if (one.answered || is_digest(one.facts)) return;
  const auto& ladder = settings_.ladder(one.facts.priority);
  if (ladder.steps.empty() || may_wait_for_hours(ladder, one.facts)) return;
  std::vector<std::string> told;
  const auto add_step = [&](const config::LadderStep& step) {
    for (const auto& contact : reached_by(settings_, step.to, now_.wall)) add_once(told, contact);
  };
  while (one.steps_done < ladder.steps.size() && now_.mono - one.since >= ladder.steps[one.steps_done].after) {
    add_step(ladder.steps[one.steps_done]);
    ++one.steps_done;
  }
  const bool at_the_top = one.steps_done >= ladder.steps.size();
  if (told.empty() && at_the_top && ladder.repeat_every && now_.mono - one.last_step >= *ladder.repeat_every)
    add_step(ladder.steps.back());
  if (told.empty()) return;
  one.last_step = now_.mono;
  for (const auto& contact : told) tell(one, contact, Kind::alarm, static_cast<unsigned>(one.steps_done));
}

void Turn::flush(const std::string& contact) {
  std::vector<Waiting> mine;
  for (const auto& w : s_.waiting)
    if (w.contact == contact) mine.push_back(w);
  // The room of what waits longest; of that room the first alarm that came leads.
  const std::string room = mine.front().facts.room;
  std::erase_if(mine, [&](const Waiting& w) { return w.facts.room != room; });
  std::erase_if(s_.waiting, [&](const Waiting& w) { return w.contact == contact && w.facts.room == room; });
  std::stable_sort(mine.begin(), mine.end(), [](const Waiting& a, const Waiting& b) {
    if ((a.kind == Kind::alarm) != (b.kind == Kind::alarm)) return a.kind == Kind::alarm;
    if (a.facts.first_out != b.facts.first_out) return a.facts.first_out;
    return a.facts.raised < b.facts.raised;
  });
  auto& m = message(mine.front().kind, contact);
  m.step = mine.front().step;
  for (const auto& w : mine) {
    const auto same =
        std::find_if(m.alarms.begin(), m.alarms.end(), [&](const Facts& f) { return are_of_one_alarm(f, w.facts); });
    if (same == m.alarms.end())
      m.alarms.push_back(w.facts);
    else
      *same = w.facts; // what became of it meanwhile
  }
  const auto& lead = m.alarms.front();
  if (const auto found = s_.climbs.find({lead.room, lead.alarm}); found != s_.climbs.end())
    for (const auto& before : found->second.sent)
      if (before.contact == contact) m.earlier.push_back(before);
  note_sent(m);
  s_.merged_at[contact] = now_.mono;
}

void Turn::flush_waiting() {
  std::vector<std::string> contacts;
  for (const auto& w : s_.waiting) add_once(contacts, w.contact);
  for (const auto& contact : contacts) {
    const auto* person = contact_named(settings_, contact);
    if (person == nullptr) { // a reload took it away; the ladder tells others
      std::erase_if(s_.waiting, [&](const Waiting& w) { return w.contact == contact; });
      continue;
    }
    const auto last = s_.merged_at.find(contact);
    const bool too_soon = last != s_.merged_at.end() && now_.mono - last->second < settings_.merge_within;
    if (!too_soon && !is_quiet(*person, now_.wall)) flush(contact);
  }
}

void Turn::digest() {
  const auto local = config::local_minutes(settings_.zone, now_.wall);
  const auto day = (local - settings_.digest_minute) / config::minutes_of_day;
  if (!s_.digest_day || *s_.digest_day > day) s_.digest_day = day; // ahead: the clock was, once
  if (day <= *s_.digest_day) return;
  s_.digest_day = day;
  if (s_.digest.empty()) return;
  std::vector<std::string> told;
  for (const auto& step : settings_.ladder(alarms::Priority::low).steps)
    for (const auto& contact : reached_by(settings_, step.to, now_.wall)) add_once(told, contact);
  for (const auto& contact : told) message(Kind::digest, contact).alarms = s_.digest;
  s_.digest.clear();
}

void Turn::test(const RouteTests::Key& key) {
  auto& m = message(Kind::route_test, key.first);
  m.only_route = key.second;
  s_.tests.last[key] = {m.number, now_.wall, {}, {}, false};
}

void Turn::test_routes() {
  for (const auto& key : tests_due(settings_, s_.tests, now_.wall)) test(key);
  for (const auto& key : tests_missed(settings_, s_.tests, now_.wall))
    tell_trouble(fmt::format("Nobody answered test {} to {} by route {}. An alarm sent this way may not be read: find "
                             "out why, then test again with `oxherd notify test`.",
                             s_.tests.last[key].number, key.first, key.second),
                 key.second);
}

/// To everyone, by any route but the one that fails; to those who have no other, by that one all the same.
void Turn::tell_trouble(const std::string& words, const std::string& not_by) {
  for (const auto& contact : settings_.contacts) {
    auto& m = message(Kind::trouble, contact.name);
    m.words = words;
    if (contact.routes.size() > 1 || contact.routes != std::vector<std::string>{not_by}) m.not_by = not_by;
  }
}

void Turn::pass_time() {
  for (auto& [key, one] : s_.climbs) climb(one);
  flush_waiting();
  digest();
  test_routes();
}

} // namespace

std::string_view name_of(Kind kind) {
  switch (kind) {
  case Kind::alarm: return "alarm";
  case Kind::returned: return "returned";
  case Kind::hidden: return "hidden";
  case Kind::digest: return "digest";
  case Kind::route_test: return "route-test";
  case Kind::trouble: return "trouble";
  }
  return "";
}

std::vector<std::string> reached_by(const config::Notify& settings, const std::vector<std::string>& to, WallTime at) {
  std::vector<std::string> names;
  for (const auto& name : to) {
    if (name == "everyone")
      for (const auto& contact : settings.contacts) add_once(names, contact.name);
    else if (contact_named(settings, name) != nullptr)
      add_once(names, name);
    for (const auto& rota : settings.rotas) {
      if (rota.name != name) continue;
      auto duty = config::on_duty(rota, at);
      if (duty.empty()) duty = everyone_in(rota);
      for (const auto& contact : duty) add_once(names, contact);
    }
  }
  return names;
}

Step next(const config::Notify& settings, State state, const Facts& facts, Now now) {
  Turn turn{settings, std::move(state), now};
  turn.take(facts);
  turn.pass_time();
  return std::move(turn).done();
}

Step next_removed(const config::Notify& settings, State state, const std::string& room, const std::string& alarm,
                  Now now) {
  Turn turn{settings, std::move(state), now};
  turn.remove({room, alarm});
  return std::move(turn).done();
}

Step next_trouble(const config::Notify& settings, State state, const std::string& route, const std::string& words,
                  Now now) {
  Turn turn{settings, std::move(state), now};
  turn.tell_trouble(words, route);
  return std::move(turn).done();
}

Step next_test(const config::Notify& settings, State state, const std::string& contact, Now now) {
  Turn turn{settings, std::move(state), now};
  for (const auto& one : settings.contacts)
    if (contact.empty() || one.name == contact)
      for (const auto& route : tested_routes(settings, one)) turn.test({one.name, route});
  return std::move(turn).done();
}

Step next(const config::Notify& settings, State state, Now now) {
  Turn turn{settings, std::move(state), now};
  turn.pass_time();
  return std::move(turn).done();
}

Monotonic due(const config::Notify& settings, const State& state, Now now) {
  Monotonic at = now.mono + wall_look;
  for (const auto& [key, one] : state.climbs) {
    if (one.answered) continue;
    const auto& ladder = settings.ladder(one.facts.priority);
    if (one.steps_done < ladder.steps.size())
      at = std::min(at, one.since + ladder.steps[one.steps_done].after);
    else if (ladder.repeat_every)
      at = std::min(at, one.last_step + *ladder.repeat_every);
  }
  for (const auto& w : state.waiting) {
    const auto last = state.merged_at.find(w.contact);
    if (last != state.merged_at.end()) at = std::min(at, last->second + settings.merge_within);
  }
  // What is over already waits for an hour of the day, not for this clock.
  return std::max(at, now.mono + std::chrono::seconds{1});
}

} // namespace oxherd::daemon::notify
