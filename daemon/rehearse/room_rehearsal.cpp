#include "daemon/rehearse/room_rehearsal.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/due.hpp"
#include "daemon/room/channel.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using alarms::Act;
using alarms::State;
using alarms::Status;

bool asks_for_a_person(State state) {
  return state == State::unacknowledged || state == State::returned_to_normal_unacknowledged ||
         state == State::latched_unacknowledged;
}

std::shared_ptr<const config::Settings> settings_of(const config::Room& room, const config::Site& site) {
  config::Settings settings;
  settings.site = site;
  settings.rooms.push_back(room);
  return std::make_shared<const config::Settings>(std::move(settings));
}

} // namespace

RoomRehearsal::RoomRehearsal(config::Room room, const config::Site& site, const Conduct& conduct, WallTime start)
    : room_{std::move(room)}, conduct_{conduct}, start_{start},
      alarms_{settings_of(room_, site), 0, Monotonic{0}, start}, owed_(room_.alarms.size()),
      to_reset_(room_.alarms.size()) {
  for (const auto& sensor : room_.sensors) {
    auto& reading = gas_.emplace_back(GasReading{});
    reading->awaited = true;
    reading->reasons.push_back({Status::failure, "no reading yet"});
    channels_.push_back({permitted_age(sensor.every)});
  }
}

Monotonic RoomRehearsal::since_start(WallTime at) const { return std::chrono::duration_cast<Monotonic>(at - start_); }

void RoomRehearsal::put(const Sample& sample, Monotonic now) {
  ChannelState& channel = channels_[sample.channel];
  GasReading& reading = *gas_[sample.channel];
  channel.answered = true;
  channel.stale = false;
  reading.awaited = false;
  reading.taken = now;
  reading.status = sample.value ? sample.status : std::max(sample.status, Status::function_check);
  reading.reasons.clear();
  if (reading.status != Status::ok)
    reading.reasons.push_back({reading.status, sample.reason.empty() ? "no reason recorded" : sample.reason});
  reading.oxygen.reset();
  reading.carbon_dioxide.reset();
  if (!sample.value || alarms::quality_of(reading.status) == alarms::Quality::bad) return;
  if (gas_of(room_.sensors[sample.channel]) == config::Measurand::carbon_dioxide) {
    reading.carbon_dioxide = Uncertain<WetFraction>{WetFraction::from_si(*sample.value), sample.u};
    return;
  }
  auto& oxygen = reading.oxygen.emplace();
  oxygen.dry = DryFraction::from_si(*sample.value);
  oxygen.u_dry = sample.u;
  // Where the data has no partial pressure at all, no alarm that looks at it is left.
  oxygen.po2 = OxygenPartialPressure::from_si(sample.po2_Pa.value_or(0.0));
  oxygen.u_po2_Pa = sample.u_po2_Pa;
}

/// What the daemon finds at each evaluation: a channel whose last sample is too old is bad, and one that has given
/// none is a fault once it is overdue.
void RoomRehearsal::age(Monotonic now) {
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    ChannelState& channel = channels_[i];
    GasReading& reading = *gas_[i];
    if (!channel.answered) {
      reading.awaited = now <= channel.permitted_age;
      continue;
    }
    const auto old = now - reading.taken;
    if (old <= channel.permitted_age) continue;
    if (channel.stale) reading.reasons.pop_back(); // it said how old the sample was then
    channel.stale = true;
    reading.oxygen.reset();
    reading.carbon_dioxide.reset();
    reading.status = Status::failure;
    reading.reasons.push_back({Status::failure, fmt::format("no reading for {} s", old.count() / 1000)});
  }
}

void RoomRehearsal::evaluate(bool new_sample, Monotonic now) {
  age(now);
  auto watched = watch_room(room_, gas_, {conduct_.regime.value_or(room_.regime), false});
  if (const auto why = alarms_.unguarded(now); !why.empty()) {
    watched.monitored = false;
    watched.reason = watched.reason.empty() ? why : why + "; " + watched.reason;
  }
  auto outcomes = alarms_.evaluate(watched, new_sample, now, start_ + now);
  ++evaluations_;
  evaluated_ = now;
  changed_ = !outcomes.empty();
  for (auto& outcome : outcomes) note(std::move(outcome), now);
  act_at(now);
}

void RoomRehearsal::note(AlarmOutcome outcome, Monotonic now) {
  const State to = outcome.record.to;
  auto& owed = owed_[outcome.alarm];
  if (!asks_for_a_person(to))
    owed.reset();
  else if (!owed)
    owed = now;
  to_reset_[outcome.alarm] = to == State::latched_acknowledged;
  outcome.record.sequence = static_cast<std::int64_t>(journal_.size()) + 1;
  journal_.push_back(std::move(outcome.record));
}

void RoomRehearsal::act(std::size_t alarm, Act what, Monotonic now) {
  const PersonAct act{what, std::string{rehearsal_author}, {}, Monotonic{0}};
  if (auto done = alarms_.act(room_.alarms[alarm].name, act, now, start_ + now)) note(std::move(done->outcome), now);
  changed_ = true;
}

/// Everything that the people of the rehearsal have to do by now.
void RoomRehearsal::act_at(Monotonic now) {
  if (!conduct_.acknowledge_after) return;
  for (std::size_t i = 0; i < owed_.size(); ++i) {
    if (owed_[i] && *owed_[i] + *conduct_.acknowledge_after <= now) act(i, Act::acknowledge, now);
    if (to_reset_[i]) act(i, Act::reset, now);
  }
}

std::optional<Monotonic> RoomRehearsal::next_act() const {
  std::optional<Monotonic> next;
  if (!conduct_.acknowledge_after) return next;
  for (const auto& owed : owed_)
    if (owed) next = alarms::earlier(next, *owed + *conduct_.acknowledge_after);
  return next;
}

std::optional<Monotonic> RoomRehearsal::due() const {
  if (changed_ || conduct_.every_tick) return evaluated_;
  auto next = alarms_.due(evaluated_);
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const auto end = (channels_[i].answered ? gas_[i]->taken : Monotonic{0}) + channels_[i].permitted_age;
    if (end >= evaluated_ && !channels_[i].stale) next = alarms::earlier(next, end + Monotonic{1});
  }
  return next;
}

/// Ticks and acts before `end`; acts at `end`, too.
/// @return what is due then, as due() says
std::optional<Monotonic> RoomRehearsal::let_pass_until(Monotonic end) {
  std::optional<Monotonic> next;
  for (;;) {
    const auto on_grid = [](Monotonic t) { return (t + tick_period - Monotonic{1}) / tick_period * tick_period; };
    next = due();
    auto tick = next;
    if (tick) tick = std::max(on_grid(*tick), ticked_ + tick_period);
    const auto acts = next_act();
    if (acts && *acts <= end && (!tick || *acts <= *tick)) {
      act_at(*acts);
      continue;
    }
    if (!tick || *tick >= end) break;
    ticked_ = *tick;
    evaluate(false, *tick);
  }
  ticked_ = std::max(ticked_, (end - Monotonic{1}) / tick_period * tick_period); // ticks left out are over
  return next;
}

void RoomRehearsal::take(WallTime at, std::span<const Sample> samples) {
  const Monotonic now = since_start(at);
  // A delay that ended before these samples has ended, whatever they say: the old ones hold until now.
  if (const auto next = let_pass_until(now); next && *next <= now) evaluate(false, now);
  for (const auto& sample : samples) put(sample, now);
  evaluate(true, now);
}

void RoomRehearsal::finish(WallTime at) {
  const Monotonic now = since_start(at);
  static_cast<void>(let_pass_until(now));
  evaluate(false, now);
}

} // namespace oxherd::daemon::rehearse
