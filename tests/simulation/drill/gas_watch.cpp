#include "tests/simulation/drill/gas_watch.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/core.h>

#include "tests/simulation/drill/simulated_valve.hpp"

namespace oxherd::drill {
namespace {

using alarms::State;

/// The drill evaluates a room with gas once a second at least, on the daemon's beat.
constexpr double evaluates_within_s = 1.25;
/// An answer that is late comes within four seconds; a write waits for one, and where its module is silent for its
/// time-out, once or twice, and two seconds in which that is left alone.
constexpr double answers_within_s = 4.0, write_within_s = 7.5;
/// From the last that befell it to what is announced of it: an age, an answer, delays, a confirmation.
constexpr double told_within_s = 40.0;

double age_permitted_s(double every_s) { return std::max(3.0 * every_s, 5.0); }

bool stands_shown(State state) { return state == State::unacknowledged || state == State::acknowledged; }

} // namespace

GasWatch::GasWatch(const RoomPlan& plan, std::size_t room) : plan_{plan}, room_{room}, stuck_since_s_{NAN} {
  lacking_since_s_.fill(NAN);
}

double GasWatch::contact_shows_s(bool suffers) const {
  const double every_s = plan_.gas.contact_every_s;
  return evaluates_within_s + (suffers ? age_permitted_s(every_s) + answers_within_s : every_s);
}

std::array<GasWatch::Need, GasWatch::needs_most> GasWatch::needs(const Truth& t) const {
  const auto& gas = plan_.gas;
  const bool purged = gas.kind == Gas::nitrogen;
  const double contact_s = contact_shows_s(t.suffers);
  const double probe_s =
      evaluates_within_s +
      (t.suffers ? age_permitted_s(gas.carbon_dioxide_every_s) + answers_within_s : gas.carbon_dioxide_every_s);
  // Lost after its stroke and two seconds, of which the next evaluation learns.
  const double device_s =
      gas.write_every_s + write_within_s + gas.stroke_s.value_or(0.0) + 2.0 + 2.0 * evaluates_within_s;
  return {{
      {"its door is closed", !gas.has_door_contact || !t.door_open || t.door_lies, contact_s},
      {"nobody is in", !gas.has_people_contact || !t.people_in || t.people_lie, contact_s},
      {"every oxygen cell answers", t.cells_answer,
       age_permitted_s(plan_.every_s) + answers_within_s + evaluates_within_s},
      {"its device answers", t.device_answers, device_s},
      {"no trip waits for a person", !t.tripped, 0.5},
      {"a person has sealed it, and its door has stayed closed", !purged || t.sealed, evaluates_within_s},
      {"a person has started it", !purged || t.run_ordered, 0.5},
      {"carbon dioxide is below its ceiling",
       purged || t.carbon_dioxide < carbon_dioxide_ceiling || t.carbon_dioxide_lies, probe_s},
  }};
}

void GasWatch::look_at_needs(const Truth& truth, Monotonic now) {
  const double now_s = alarms::seconds_of(now);
  const auto all = needs(truth);
  for (std::size_t i = 0; i < all.size(); ++i) {
    const auto& need = all[i];
    auto& since_s = lacking_since_s_[i];
    if (need.holds) {
      since_s = NAN;
      continue;
    }
    if (std::isnan(since_s)) since_s = now_s;
    const double lacks_for_s = now_s - since_s;
    const double truly_s =
        need.shows_s + write_within_s + alarms::seconds_of(module_time_out) + truth.valve_late_s + evaluates_within_s;
    if (truth.commanded && lacks_for_s > need.shows_s)
      complaints.push_back(fmt::format("{}: its gas valve is commanded open although for {:.2f} s it has not been true "
                                       "that {} ({:.2f} s permitted)",
                                       plan_.name, lacks_for_s, need.what, need.shows_s));
    else if (truth.open && was_open_ && !truth.stuck && lacks_for_s > truly_s)
      complaints.push_back(fmt::format("{}: its gas valve is open although for {:.2f} s it has not been true that {} "
                                       "({:.2f} s permitted)",
                                       plan_.name, lacks_for_s, need.what, truly_s));
  }
  was_open_ = truth.open;
}

void GasWatch::look_at_stuck(const daemon::Site& site, const Truth& truth, double now_s, Tally& tally) {
  if (!truth.open || truth.commanded || !truth.stuck_shows) {
    stuck_since_s_ = NAN;
    return;
  }
  if (std::isnan(stuck_since_s_)) {
    stuck_since_s_ = now_s;
    stuck_told_ = false;
  }
  const double for_s = now_s - std::max(stuck_since_s_, started_s_);
  const auto& gas = plan_.gas;
  if (stands_shown(site.state_of(room_, "output-lost"))) {
    if (truth.stuck && !std::exchange(stuck_told_, true)) {
      ++tally.gas["stuck valves announced"];
      tally.stuck_told_s.push_back(static_cast<float>(now_s - stuck_since_s_));
    }
    return;
  }
  const double stroke_s = gas.stroke_s.value_or(0.0);
  const double permitted_s = 2.0 * write_within_s + gas.write_every_s + stroke_s + (stroke_s + 2.0) +
                             truth.valve_late_s + 2.0 * evaluates_within_s;
  if (for_s <= permitted_s) return;
  complaints.push_back(fmt::format("{}: its gas valve has been open against its order for {:.1f} s, and that is not "
                                   "announced ({:.1f} s permitted)",
                                   plan_.name, for_s, permitted_s));
}

void GasWatch::count(const Truth& truth, double now_s, Tally& tally) {
  if (truth.commanded && !was_commanded_)
    ++tally.gas[plan_.gas.kind == Gas::nitrogen ? "purges that flowed" : "dosings"];
  if (!truth.commanded && was_commanded_) {
    double since_s = INFINITY;
    for (const double one : lacking_since_s_)
      if (!std::isnan(one)) since_s = std::min(since_s, one);
    if (since_s < INFINITY) tally.shut_s.push_back(static_cast<float>(now_s - since_s));
  }
  was_commanded_ = truth.commanded;
}

void GasWatch::note_causes(const Truth& truth, bool alarm_stands, double now_s) {
  if (truth.suffers || truth.faulty) fault_until_s_ = now_s;
  const bool lacks = std::any_of(lacking_since_s_.begin(), lacking_since_s_.end(),
                                 [](double since_s) { return !std::isnan(since_s); });
  if (lacks || alarm_stands || truth.suffers || truth.faulty || truth.low) cause_until_s_ = now_s;
  if (truth.run_ordered && !std::exchange(was_run_, truth.run_ordered)) disturbed_in_run_ = false;
  was_run_ = truth.run_ordered;
  disturbed_in_run_ = disturbed_in_run_ || truth.disturbed || truth.faulty || truth.suffers;
}

void GasWatch::announced(const daemon::AlarmRecord& record, Monotonic now, Tally& tally) {
  if (record.event != "transition" || record.to != State::unacknowledged || record.cause != "condition") return;
  const double now_s = alarms::seconds_of(now);
  const bool of_output = record.alarm == "output-lost";
  const double since_s = now_s - std::max(started_s_, of_output ? fault_until_s_ : cause_until_s_);
  const bool by_fall = !of_output && record.text.find("look for a leak") != std::string::npos;
  if (since_s <= told_within_s || by_fall) {
    ++tally.gas[of_output ? "outputs lost" : by_fall ? "stops because oxygen did not fall" : "stops by an interlock"];
    if (!by_fall || disturbed_in_run_) return;
  }
  ++tally.without_cause;
  complaints.push_back(fmt::format("{}/{} is announced although nothing befell the room for {:.1f} s: {}", plan_.name,
                                   record.alarm, since_s, record.text));
}

void GasWatch::look(const daemon::Site& site, const Truth& truth, Monotonic now, Tally& tally) {
  const double now_s = alarms::seconds_of(now);
  for (const auto& actuator : site.control().view(room_))
    if (control::facts_of(actuator.duty).gas && actuator.driven > 0.0 && !actuator.state->blocks.empty())
      complaints.push_back(fmt::format("{}: {} is on although it says itself: {}", plan_.name, actuator.name,
                                       control::sentence_of(actuator.state->blocks)));
  bool alarm_stands = false;
  for (const char* alarm : {"low-oxygen", "not-monitored", "output-lost"}) {
    const auto state = site.state_of(room_, alarm);
    alarm_stands = alarm_stands || state != State::normal;
    if (truth.commanded && stands_shown(state))
      complaints.push_back(fmt::format("{}: its gas valve is commanded open although {} stands", plan_.name, alarm));
  }
  look_at_needs(truth, now);
  look_at_stuck(site, truth, now_s, tally);
  count(truth, now_s, tally);
  note_causes(truth, alarm_stands, now_s);
}

} // namespace oxherd::drill
