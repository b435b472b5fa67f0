// Rooms of a run that a gas is let into: what people order there, what is written to the valve, and what it lets in.
#include <algorithm>

#include "alarms/due.hpp"
#include "daemon/control/control_lines.hpp"
#include "daemon/store/history.hpp"
#include "tests/simulation/drill/run.hpp"

namespace oxherd::drill {
namespace {

using namespace std::chrono_literals;
using alarms::Regime;
using control::ActuatorAct;

/// As daemon/run reads it at a start.
std::vector<daemon::ControlRemembered> remembered_control(const std::filesystem::path& path,
                                                          const config::Settings& settings) {
  daemon::HistoryQuery query;
  query.alarm_prefix = daemon::actuator_journal_name({});
  query.from = daemon::WallTime{0ms};
  query.to = daemon::WallTime::max();
  query.limit = daemon::query_limit_max;
  const auto found = daemon::alarm_history(path, query);
  return found ? daemon::remembered_control(found->records, settings) : std::vector<daemon::ControlRemembered>{};
}

} // namespace

void Run::add_gas(std::size_t room) {
  gas_of_.push_back(nullptr);
  bus_.gas.push_back(nullptr);
  const auto& plan = script_.site.rooms[room];
  if (!plan.gas.any()) return;
  for (std::size_t o = 0; o < settings_.outputs.size(); ++o)
    if (settings_.outputs[o].name == valve_name(plan)) gas_of_.back() = &gas_.emplace_back(plan, room, o);
  bus_.gas.back() = &gas_of_.back()->gas();
  gas_of_.back()->lies = script_.breakage == Breakage::stuck_valve_untold;
}

std::optional<Monotonic> Run::gas_due() const {
  std::optional<Monotonic> next;
  const auto consider = [&](const std::optional<Monotonic>& at) { next = alarms::earlier(next, at); };
  for (const auto& gas : gas_) {
    consider(gas.due());
    if (!site_) continue;
    consider(gas.write_due(threads_[gas.room].free_at()));
    for (const auto& [at, result] : gas.answers) consider(at);
    consider(gas.next_try);
  }
  return next;
}

void Run::work_gas() {
  for (auto& gas : gas_) {
    air_[gas.room].advance_to(alarms::seconds_of(now_));
    const bool flowed = gas.flows();
    gas.advance_to(now_, site_.has_value());
    if (site_) {
      const auto late = std::stable_partition(gas.answers.begin(), gas.answers.end(),
                                              [&](const auto& answer) { return answer.first <= now_; });
      for (auto one = gas.answers.begin(); one != late; ++one) outputs_->written(one->second, mono());
      gas.answers.erase(gas.answers.begin(), late);
      if (gas.next_try && *gas.next_try <= now_) try_to_let_in(gas);
      write_gas(gas);
    } else
      gas.watch.look_at_needs(gas.truth(air_[gas.room]), now_);
    for (const auto& complaint : gas.watch.complaints) complain(complaint);
    watches_[gas.room].set_sealed(gas.is_sealed(), now_);
    if (gas.flows() != flowed) set_flows();
  }
}

void Run::write_gas(GasRoom& gas) {
  auto& thread = threads_[gas.room];
  const auto due = gas.write_due(thread.free_at());
  if (!due || *due > now_) return;
  for (const auto* h : active_)
    if (h->kind == Kind::thread_stuck && h->room == gas.room) return thread.hangs(now_);
  auto carried = gas.carry(now_);
  thread.busy_until(now_ + carried.took);
  if (!carried.result) return;
  if (carried.took == 0ms)
    outputs_->written(*carried.result, mono());
  else
    gas.answers.emplace_back(now_ + carried.took, *std::move(carried.result));
}

/// What befalls them has changed.
void Run::befall_gas() {
  for (auto& gas : gas_) {
    gas.befall(active_, now_);
    gas.advance_to(now_, site_.has_value());
  }
  if (gas_.empty()) return;
  for (const auto& h : script_.story) {
    if (h.at > now_) break;
    if (facts_of(h.kind).of_gas) turn_gas(h);
  }
}

/// What people do when a part of the story begins or ends.
void Run::turn_gas(const Happening& h) {
  auto& gas = *gas_of_[h.room];
  const auto passes = [&](Monotonic at) { return last_edge_ < at && at <= now_; };
  if (h.kind == Kind::purge && passes(h.at)) {
    gas.purge = &h;
    gas.next_try = now_;
  }
  const bool ends = passes(h.at + h.length);
  if (h.kind == Kind::purge && ends && gas.purge == &h) {
    gas.purge = nullptr;
    gas.next_try.reset();
    const bool by_hand = gas.plan.gas.kind == Gas::carbon_dioxide;
    if (site_ && order_gas(gas, by_hand ? ActuatorAct::automatic : ActuatorAct::end)) gas.run_ordered = false;
  }
  if (h.kind != Kind::seal || gas.plan.gas.kind != Gas::nitrogen || !site_) return;
  if (passes(h.at)) say_regime(gas, Regime::sealed_low_oxygen);
  if (ends) say_regime(gas, Regime::ventilated_before_entry);
}

void Run::say_regime(GasRoom& gas, Regime regime) {
  const bool seals = regime == Regime::sealed_low_oxygen;
  // Whoever seals has looked; one in ten has not looked well.
  const bool mistaken = mixed(script_.seed ^ static_cast<std::uint64_t>(now_.count())) % 10 == 0;
  if (seals && !mistaken && (gas.gas().door_open || gas.gas().people_in)) return;
  // What the file says alone is no sealing by a person, who has to begin it anew.
  if (seals && gas.is_sealed() && !gas.is_sealed_by_person()) say_regime(gas, Regime::ventilated_before_entry);
  const auto acted =
      site_->set_regime(settings_.rooms[gas.room].name, {regime, "R. Finch", "as planned", true}, mono(), wall());
  if (!acted->refusal) {
    gas.said(seals, now_);
    watches_[gas.room].set_sealed(gas.is_sealed(), now_);
    ++outcome_.tally.gas[seals ? "sealings" : "unsealings"];
  }
  keep(acted->outcome);
  tick_soon(gas.room);
}

bool Run::order_gas(GasRoom& gas, ActuatorAct act, Monotonic time) {
  const control::ActuatorOrder order{act, "R. Okafor", "as planned", 1.0, time};
  const auto acted = site_->order(valve_name(gas.plan), order, mono(), wall());
  keep(acted->outcome);
  if (!acted->refusal) tick(gas.room); // in force at once
  return !acted->refusal;
}

/// As a person who wants gas in: sees to what stands in the way, and starts.
void Run::try_to_let_in(GasRoom& gas) {
  gas.next_try = now_ + Monotonic{60000 + mixed(static_cast<std::uint64_t>(now_.count())) % 120000};
  const bool purged = gas.plan.gas.kind == Gas::nitrogen;
  look_after(gas.room);
  if (purged && !gas.is_sealed_by_person()) say_regime(gas, Regime::sealed_low_oxygen);
  tick(gas.room);
  if (gas.tripped) static_cast<void>(order_gas(gas, ActuatorAct::release));
  if (gas.run_ordered || gas.tripped) return tick_soon(gas.room);
  const auto start = [&](ActuatorAct act, Monotonic time) {
    gas.run_ordered = true; // from the order on
    if (!order_gas(gas, act, time)) gas.run_ordered = false;
  };
  if (purged) {
    start(ActuatorAct::start, 0ms);
    ++outcome_.tally.gas[gas.run_ordered ? "starts" : "refused starts"];
  } else {
    const auto left = std::min<Monotonic>(gas.purge->at + gas.purge->length - now_, control::hold_at_most);
    start(ActuatorAct::hold, std::max<Monotonic>(left, 1s));
    ++outcome_.tally.gas[gas.run_ordered ? "dosings by hand" : "refused dosings by hand"];
  }
  tick_soon(gas.room);
}

/// What the outputs are to hold now goes to the bus; what is known of them, to the next evaluation.
void Run::gas_evaluated(GasRoom& gas) {
  for (const auto& write : outputs_->due(*site_, mono(), {})) {
    auto what = write.what;
    for (auto& one : gas_) {
      if (one.output != what.output) continue;
      if (script_.breakage == Breakage::gas_not_shut && one.commanded) what.value = 1;
      one.hand(what);
    }
  }
  site_->set_outputs_found(gas.room, outputs_->found(mono())[gas.room]);
  gas.watch.look(*site_, gas.truth(air_[gas.room]), now_, outcome_.tally);
  for (const auto& complaint : gas.watch.complaints) complain(complaint);
}

/// @param all_known  whether the records have every line that there was
void Run::gas_started(bool all_known) {
  if (gas_.empty()) return;
  outputs_.emplace(settings_);
  keep(site_->restore_control(remembered_control(disk_.path(), settings_), mono(), wall()));
  for (auto& gas : gas_) {
    const auto& regime = site_->regime(gas.room);
    const bool tripped = site_->control().view(gas.room).front().state->trip.has_value();
    if (const auto wrong = all_known ? gas.disagreement(regime, tripped) : std::string{}; !wrong.empty())
      complain(wrong);
    gas.adopt(regime);
    gas.tripped = tripped;
    gas.started(now_);
    watches_[gas.room].set_sealed(gas.is_sealed(), now_);
    if (gas.purge != nullptr) gas.next_try = now_ + 60s;
  }
}

void Run::gas_reloaded() {
  if (!outputs_) return;
  const auto before = std::move(*outputs_);
  outputs_.emplace(settings_);
  outputs_->continue_from(before);
}

void Run::gas_left() {
  outputs_.reset();
  for (auto& gas : gas_) gas.left();
}

void Run::note_gas(const daemon::AlarmRecord& line) {
  for (auto& gas : gas_) {
    if (gas.plan.name != line.room) continue;
    gas.watch.announced(line, now_, outcome_.tally);
    for (const auto& complaint : gas.watch.complaints) complain(complaint);
    if (line.alarm != daemon::actuator_journal_name(valve_name(gas.plan))) continue;
    if (line.event == name_of(control::ActuatorEvent::tripped)) gas.tripped = true;
    if (line.event == name_of(ActuatorAct::release)) gas.tripped = false;
    if (line.event == name_of(control::ActuatorEvent::tripped) ||
        line.event == name_of(control::ActuatorEvent::run_ended) ||
        line.event == name_of(control::ActuatorEvent::override_ended))
      gas.run_ordered = false;
  }
}

} // namespace oxherd::drill
