#include "tests/simulation/drill/gas_room.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using alarms::Regime;

/// A module that gives no answer: its time-out, and so long it is left alone then, as the bus thread does.
constexpr Monotonic time_out = 500ms, left_alone = 2s;
/// So long after a value may still be on its way that something spoilt: an age, an answer that is late.
constexpr double echo_s = 12.0;
/// From the end of a stuck valve to the write or the time-out that moves it.
constexpr double freed_within_s = 10.0;

bool silences_module(Kind kind) {
  return kind == Kind::module_silent || kind == Kind::module_reboot || kind == Kind::bus_out ||
         kind == Kind::gateway_silent;
}

/// 0 to below 1, for this write alone.
double drawn_for(const Happening& h, Monotonic now) {
  return 0.5 + 0.5 * noise(h.salt, 77, static_cast<std::uint64_t>(now.count()));
}

} // namespace

GasRoom::GasRoom(const RoomPlan& of, std::size_t number, std::size_t of_output)
    : plan{of}, room{number}, output{of_output}, watch{of, number}, gas_{of}, sealed_{of.gas.kind == Gas::nitrogen} {}

void GasRoom::befall(Active active, Monotonic now) {
  active_.clear();
  SimulatedValve::Faults faults;
  for (const auto* h : active) {
    if (facts_of(h->kind).of_room && h->room != room) continue;
    active_.push_back(h);
    if (h->kind == Kind::module_reboot && h->at == now) valve_.reboot(now);
    faults.silent = faults.silent || silences_module(h->kind);
    faults.coil_stuck = faults.coil_stuck || h->kind == Kind::coil_stuck;
    faults.valve_stuck = faults.valve_stuck || h->kind == Kind::valve_stuck;
    if (h->kind == Kind::valve_late) faults.late = std::max(faults.late, ms_of(1.0 + 20.0 * h->size));
  }
  valve_.befall(faults, now);
}

/// A device that gives for ever what it gave last tells nothing new of its cell.
bool GasRoom::is_stuck(std::size_t sensor) const {
  return std::any_of(active_.begin(), active_.end(),
                     [&](const auto* h) { return h->kind == Kind::stuck && h->sensor == sensor; });
}

bool GasRoom::tells_of_people() const {
  bool door_lies = false, people_lie = false;
  for (const auto* h : active_)
    if (const auto at = input_befallen(plan, *h)) {
      door_lies = door_lies || at == plan.door_at();
      people_lie = people_lie || at == plan.people_at();
    }
  return (plan.door_at() && gas_.door_open && !door_lies) || (plan.people_at() && gas_.people_in && !people_lie);
}

void GasRoom::advance_to(Monotonic now, bool watched) {
  now_s_ = alarms::seconds_of(now);
  const bool flowed = valve_.is_open();
  valve_.advance_to(now);
  gas_.advance_to(now_s_, flowed, plan.air_changes_h / 3600.0 + air_by_doors_per_s(active_, room));
  gas_.door_open = gas_.people_in = false;
  bool suffers = false;
  for (const auto* h : active_) {
    gas_.door_open = gas_.door_open || opens_door(*h, now);
    gas_.people_in = gas_.people_in || h->kind == Kind::people_in;
    suffers = suffers || facts_of(h->kind).reaches_values;
  }
  if (suffers) suffered_until_s_ = now_s_;
  if (valve_.is_stuck()) stuck_until_s_ = now_s_;
  // A contact that does not answer tells nothing; where it is closed when it answers again, nobody knows what was.
  if (!watched || !tells_of_people() || now_s_ - suffered_until_s_ <= echo_s) {
    seen_since_.reset();
    return;
  }
  if (!seen_since_) seen_since_ = now;
  if (sealed_ && alarms::seconds_of(now - *seen_since_) > watch.contact_shows_s(false)) surely_broken_ = true;
}

void GasRoom::add_flows(double& nitrogen_per_s, double& air_per_s) const {
  if (!valve_.is_open() || plan.gas.kind != Gas::nitrogen) return;
  const double supply_per_s = plan.gas.supply_changes_h / 3600.0, of_air = supplied_oxygen / 0.20946;
  nitrogen_per_s += (1.0 - of_air) * supply_per_s;
  air_per_s += of_air * supply_per_s;
}

void GasRoom::hand(const daemon::OutputWrite& write) {
  const auto untried = waiting_ && !waiting_->put_off ? waiting_->decided : std::nullopt;
  waiting_ = write;
  if (!waiting_->decided) waiting_->decided = untried;
  commanded = write.value != 0;
}

std::optional<Monotonic> GasRoom::write_due(Monotonic bus_free) const {
  if (!waiting_) return std::nullopt;
  const bool at_once = waiting_->decided && !waiting_->put_off;
  return at_once ? bus_free : std::max(bus_free, left_alone_until_);
}

daemon::WriteResult GasRoom::no_reply(const daemon::OutputWrite& write) const {
  daemon::WriteResult result{.output = write.output, .value = write.value};
  result.error = drivers::BusError{drivers::BusFault::timeout, 0, "no reply from the device"};
  return result;
}

GasRoom::Carried GasRoom::carry(Monotonic now) {
  auto write = *waiting_;
  waiting_.reset();
  auto result = valve_.write(write, now);
  Monotonic took = result.error ? time_out : 0ms;
  for (const auto* h : active_)
    if (h->kind == Kind::late_replies) {
      took = std::max(took, Monotonic{static_cast<std::int64_t>(4000.0 * h->size * drawn_for(*h, now))});
      if (took >= time_out) result = no_reply(write); // it was heard all the same
    }
  took = std::min(took, time_out);
  if (lies && !result.error) {
    result.held = write.value;
    if (result.contact) result.contact = write.value != 0;
  }
  const bool was_answering = left_alone_until_ == 0ms;
  left_alone_until_ = result.error ? now + took + left_alone : 0ms;
  if (!result.error || !write.decided || write.put_off) return {result, took};
  // A decision that was tried in vain is tried again at once where its unit was answering, and else when its unit is.
  write.put_off = !was_answering;
  waiting_ = write;
  if (was_answering) return {std::nullopt, took};
  return {result, took};
}

void GasRoom::started(Monotonic now) {
  run_ordered = false;
  watch.started(now);
  seen_since_.reset();
}

void GasRoom::bus_begun_anew() {
  waiting_.reset();
  answers.clear();
  left_alone_until_ = Monotonic{0};
}

void GasRoom::left() {
  bus_begun_anew();
  commanded = run_ordered = false;
  next_try.reset();
}

void GasRoom::said(bool sealed, Monotonic now) {
  sealed_ = sealed;
  by_person_ = true;
  surely_broken_ = false;
  watch.person_said(now);
  if (seen_since_) seen_since_ = now;
}

void GasRoom::adopt(const daemon::RegimeStatement& regime) {
  sealed_ = regime.regime == Regime::sealed_low_oxygen;
  by_person_ = !regime.by.empty();
  surely_broken_ = regime.broken;
}

std::string GasRoom::disagreement(const daemon::RegimeStatement& regime, bool is_tripped) const {
  const bool sealed = regime.regime == Regime::sealed_low_oxygen;
  if (sealed != sealed_)
    return fmt::format("a person said that {} is {}, and a restart takes it for {}", plan.name,
                       sealed_ ? "sealed" : "ventilated", sealed ? "sealed" : "ventilated");
  if (sealed && surely_broken_ && !regime.broken)
    return fmt::format("the seal of {} was broken, and a restart takes it for whole", plan.name);
  if (tripped != is_tripped)
    return fmt::format("the gas of {} {} for a person, and a restart has it that it {}", plan.name,
                       tripped ? "waits" : "does not wait", is_tripped ? "does" : "does not");
  return {};
}

GasWatch::Truth GasRoom::truth(const TrueAir& air) const {
  GasWatch::Truth t;
  t.door_open = gas_.door_open;
  t.people_in = gas_.people_in;
  t.carbon_dioxide = gas_.carbon_dioxide();
  for (const auto* h : active_) {
    if (const auto at = input_befallen(plan, *h); at && h->kind == Kind::contact_lies) {
      t.door_lies = t.door_lies || at == plan.door_at();
      t.people_lie = t.people_lie || at == plan.people_at();
      t.carbon_dioxide_lies = t.carbon_dioxide_lies || at == plan.carbon_dioxide_at();
    }
    const bool of_cell = h->sensor < plan.cells.size() && facts_of(h->kind).of_sensor;
    const bool bus = h->kind == Kind::bus_out || h->kind == Kind::gateway_silent || h->kind == Kind::thread_stuck;
    const bool silences = h->kind == Kind::sensor_silent || h->kind == Kind::reboot ||
                          (h->kind == Kind::cell_disconnected && !is_stuck(h->sensor));
    if (bus || (of_cell && silences)) t.cells_answer = false;
    if (bus || silences_module(h->kind)) t.device_answers = false;
    t.disturbed = t.disturbed || h->kind == Kind::airing || h->kind == Kind::door_open || h->kind == Kind::leak;
  }
  t.low = !std::isnan(air.below_since_s());
  t.sealed = is_sealed_by_person();
  t.run_ordered = run_ordered;
  t.tripped = tripped;
  t.suffers = now_s_ - suffered_until_s_ <= echo_s;
  t.commanded = commanded;
  t.open = valve_.is_open();
  t.valve_late_s = alarms::seconds_of(valve_.faults().late);
  t.stuck = now_s_ - stuck_until_s_ <= freed_within_s + t.valve_late_s;
  t.faulty = t.stuck || t.valve_late_s > 0.0 || !t.device_answers;
  t.stuck_shows = plan.gas.stroke_s || valve_.coil() != commanded;
  return t;
}

} // namespace oxherd::drill
