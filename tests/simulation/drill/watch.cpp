#include "tests/simulation/drill/watch.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace oxherd::drill {
namespace {

using alarms::State;

constexpr double t90_per_lag = 2.302585, evaluation_s = 0.25, late_at_most_s = 4.0;

double permitted_age_s(double every_s) { return std::max(3.0 * every_s, 5.0); }

bool stands(State state) { return state == State::unacknowledged || state == State::acknowledged; }

/// An alarm that is out of service makes its room not monitored, which is announced.
bool is_announced(const daemon::Site& site, std::size_t room) {
  return stands(site.state_of(room, "low-oxygen")) || stands(site.state_of(room, "not-monitored"));
}

bool befalls(const Happening& h, std::size_t room) { return !facts_of(h.kind).of_room || h.room == room; }

} // namespace

std::string_view RoomWatch::untruth(Active active) const {
  std::size_t lying = 0, silent = 0;
  std::string_view why;
  for (std::size_t s = 0; s < plan_.sensors(); ++s) {
    bool lies = false, suffers = false;
    for (const auto* h : active) {
      if (!befalls(*h, room_) || (facts_of(h->kind).of_sensor && h->sensor != s)) continue;
      if (facts_of(h->kind).lies) {
        lies = true;
        why = facts_of(h->kind).name;
      } else
        suffers = suffers || facts_of(h->kind).reaches_values;
    }
    if (lies && s == plan_.probe_at()) return why;
    if (lies) ++lying;
    if (!lies && suffers && s != plan_.probe_at()) ++silent;
  }
  if (lying == 0) return {};
  if (plan_.vote == alarms::Scheme::two_of_three && lying == 1) return {};
  if (plan_.vote == alarms::Scheme::one_of_two && lying == 1 && silent == 0) return {};
  return why;
}

void RoomWatch::note(Active active, Monotonic now, bool daemon_runs) {
  const double now_s = alarms::seconds_of(now);
  const auto untrue = untruth(active);
  if (!daemon_runs || !untrue.empty()) {
    known_since_s_ = INFINITY;
  } else if (!runs_) {
    known_since_s_ = started_s_ = now_s;
  } else if (!untruth_.empty()) // what was untrue stands until the next poll, or until it is too old
    known_since_s_ = now_s + permitted_age_s(std::max(plan_.every_s, plan_.probe_every_s));
  untruth_ = untrue;
  runs_ = daemon_runs;
  const bool suffered = std::exchange(suffers_, false);
  for (const auto* h : active)
    if (befalls(*h, room_) && facts_of(h->kind).reaches_values) {
      // Whoever takes a standing alarm out of service knows of it; then the room is to be announced as not monitored.
      if (h->kind == Kind::taken_out_of_service && h->at > last_note_) known_since_s_ = std::max(known_since_s_, now_s);
      suffers_ = true;
      sufferer_ = facts_of(h->kind).name;
    }
  if (suffered || suffers_) suffered_until_s_ = now_s;
  last_note_ = now;
}

void RoomWatch::set_sealed(bool sealed, Monotonic now) {
  if (sealed)
    unsealed_since_s_ = INFINITY;
  else if (unsealed_since_s_ == INFINITY)
    unsealed_since_s_ = alarms::seconds_of(now);
}

double RoomWatch::deadline_s(double since_s) const {
  double lag_s = 0.0;
  for (const auto& cell : plan_.cells) lag_s = std::max(lag_s, cell.lag_s);
  const double poll_s = plan_.every_s;
  const double plain_s = 3.0 * t90_per_lag * lag_s + poll_s + plan_.on_delay_s + evaluation_s;
  const double age_s = permitted_age_s(std::max(plan_.every_s, plan_.probe_every_s));
  if (!suffers_ && since_s > suffered_until_s_ + age_s) return plain_s;
  return plain_s + age_s + plan_.blind_on_delay_s + late_at_most_s + evaluation_s;
}

bool RoomWatch::is_undisturbed(Monotonic now) const {
  const double age_s = permitted_age_s(std::max(plan_.every_s, plan_.probe_every_s));
  return !suffers_ && alarms::seconds_of(now) > suffered_until_s_ + age_s;
}

void RoomWatch::announced(const daemon::AlarmRecord& record, const TrueAir& air, Monotonic now, Tally& tally) {
  if (record.event != "transition" || record.to != State::unacknowledged || record.cause != "condition") return;
  const double now_s = alarms::seconds_of(now);
  const double age_s = permitted_age_s(std::max(plan_.every_s, plan_.probe_every_s));
  double lag_s = 0.0;
  for (const auto& cell : plan_.cells) lag_s = std::max(lag_s, cell.lag_s);
  // As long as a cell can still show it, and then the delays.
  const double echo_s = 3.0 * t90_per_lag * lag_s + age_s + plan_.on_delay_s + plan_.blind_on_delay_s + 1.0;
  const bool by_air = record.alarm == "low-oxygen" && now_s - air.near_limit_until_s() <= echo_s;
  const bool by_fault = suffers_ || now_s - suffered_until_s_ <= echo_s + late_at_most_s;
  if (by_air)
    ++tally.true_alarms;
  else if (now_s - started_s_ <= age_s + plan_.blind_on_delay_s + 1.0)
    ++tally.alarms_by_fault[record.alarm + ", start of the daemon"];
  else if (by_fault)
    ++tally.alarms_by_fault[record.alarm + ", " + std::string{sufferer_}];
  else {
    ++tally.without_cause;
    complaints.push_back(fmt::format("{}/{} is announced although nothing befell the room and oxygen is {:.2f} %: {}",
                                     plan_.name, record.alarm, 100.0 * air.oxygen(), record.text));
  }
}

void RoomWatch::look(const daemon::Site& site, bool relay, const TrueAir& air, Monotonic now, Tally& tally) {
  const double now_s = alarms::seconds_of(now);
  const double passed_s = now_s - std::exchange(last_look_s_, now_s);
  const bool low = !std::isnan(air.below_since_s());
  if (!low) {
    was_low_ = false;
    return;
  }
  const bool told = is_announced(site, room_);
  if (!was_low_) {
    was_low_ = true;
    spell_counted_ = false;
    told_before_ = told;
    if (told) {
      tally.detection_s.push_back(0.0F);
      ++tally.low_spells;
      spell_counted_ = true;
    }
  }
  if (told && relay) complaints.push_back(fmt::format("{}: the alarm stands and the relay does not warn", plan_.name));
  if (!untruth_.empty() && !told) tally.unknowable_s[std::string{untruth_}] += passed_s;
  const double knowable_s = std::max({air.below_since_s(), known_since_s_, unmonitored_until_s_, unsealed_since_s_});
  if (stands(site.state_of(room_, "not-monitored"))) unmonitored_until_s_ = now_s;
  const double since_s = std::max({air.below_since_s(), known_since_s_, unmonitored_until_s_, unsealed_since_s_});
  const double low_for_s = now_s - since_s;
  const double permitted_s = deadline_s(since_s);
  const bool first = told && !std::exchange(told_before_, told);
  if (first) {
    const double from_s = std::min(now_s, std::max(air.below_since_s(), unsealed_since_s_));
    tally.detection_s.push_back(static_cast<float>(now_s - from_s));
    const double used_s = std::max(0.0, now_s - knowable_s);
    if (std::isfinite(knowable_s)) tally.of_deadline.push_back(static_cast<float>(used_s / deadline_s(knowable_s)));
    if (!std::exchange(spell_counted_, true)) ++tally.low_spells;
  }
  if (low_for_s <= permitted_s || (told && !first)) return;
  if (!std::exchange(spell_counted_, true)) ++tally.low_spells;
  ++tally.missed;
  complaints.push_back(fmt::format("{}: oxygen is {:.2f} %, below {:.1f} % for {:.1f} s, and {} ({:.1f} s permitted)",
                                   plan_.name, 100.0 * air.oxygen(), 100.0 * plan_.limit, low_for_s,
                                   told ? "only now announced" : "not announced", permitted_s));
}

} // namespace oxherd::drill
