#include "control/actuator.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace oxherd::control {
namespace {

bool needs_a_run(Duty duty) { return need_of(duty, Condition::started_by_person) == Need::always; }

/// What the actuator knows of itself.
void add_own_facts(const ActuatorRules& rules, const ActuatorState& state, Monotonic now, Facts& facts) {
  facts.set(Condition::started_by_person, state.run ? Truth::holds : Truth::fails, "nobody has started it");
  facts.set(Condition::not_tripped, state.trip ? Truth::fails : Truth::holds,
            state.trip ? fmt::format("it waits to be released after: {}", state.trip->because) : "");
  const bool too_long = rules.times.on_most && state.on_since && now - *state.on_since >= *rules.times.on_most;
  facts.set(Condition::within_longest_run, too_long ? Truth::fails : Truth::holds,
            rules.times.on_most
                ? fmt::format("it has been on for {} min, the longest that it may",
                              std::chrono::duration_cast<std::chrono::minutes>(*rules.times.on_most).count())
                : "");
}

void end_what_is_over(const ActuatorRules& rules, ActuatorStep& step, Monotonic now) {
  auto& state = step.state;
  if (state.override_ && now >= state.override_->until) {
    step.news.push_back({ActuatorEvent::override_ended, "its time is over"});
    state.override_.reset();
  }
  if (state.run && now - state.run->since >= rules.run_most) {
    step.news.push_back({ActuatorEvent::run_ended, "its time is over: look at the room, and start it anew"});
    state.run.reset();
  }
}

/// A condition that fails while the actuator works, or may work by a person's start, ends that for good. One that is
/// seen to fail does so too between two pulses, which a loop would go on with.
void trip_if_due(const ActuatorRules& rules, ActuatorStep& step, const std::vector<Block>& found, Monotonic now) {
  auto& state = step.state;
  const bool at_work = state.on_since || state.run;
  if ((!at_work && !state.asked) || state.trip) return;
  std::vector<Block> causes;
  std::copy_if(found.begin(), found.end(), std::back_inserter(causes), [&](const Block& block) {
    const bool counts = at_work ? block.truth != Truth::missed : block.truth == Truth::fails;
    return counts && trips(rules.duty, block.condition);
  });
  if (causes.empty()) return;
  state.trip = Trip{now, sentence_of(causes)};
  step.news.push_back({ActuatorEvent::tripped, state.trip->because});
  if (state.run) {
    step.news.push_back({ActuatorEvent::run_ended, state.trip->because});
    state.run.reset();
  }
  if (state.override_ && state.override_->output > 0.0) {
    step.news.push_back({ActuatorEvent::override_ended, state.trip->because});
    state.override_.reset();
  }
}

/// What mixes the air holds no value, so that no loop could ever ask for it: it runs unless a person holds it still.
bool runs_unasked(Duty duty) { return duty == Duty::circulation; }

bool works(const std::optional<Wish>& wish) { return wish && wish->output && *wish->output > 0.0; }

/// Says who decides and what, in the order of their rank.
void decide(const ActuatorRules& rules, ActuatorStep& step, const Situation& situation,
            const std::optional<Wish>& wish) {
  auto& state = step.state;
  const auto set = [&](Decider by, double output, std::string because) {
    state.by = by;
    state.output =
        std::isfinite(output) ? std::clamp(output, 0.0, 1.0) : output_of(rules.safe, situation.people_may_be_in);
    state.because = std::move(because);
    // What is blocked stops at once, whoever else would have let it run on for its least time.
    step.urgent = by == Decider::interlock || by == Decider::safe_state || !state.blocks.empty();
  };
  const bool may_work = state.run || !needs_a_run(rules.duty);
  state.asked = state.override_ ? state.override_->output > 0.0 : may_work && works(wish);
  if (!state.blocks.empty()) {
    if (state.asked || state.trip) return set(Decider::interlock, 0.0, sentence_of(state.blocks));
    return set(state.override_ ? Decider::person : Decider::rest, 0.0,
               state.override_ ? state.override_->because : sentence_of(state.blocks));
  }
  if (facts_of(rules.duty).airs && situation.people_may_be_in && (situation.safety_alarm || !situation.monitored))
    return set(Decider::interlock, 1.0,
               situation.safety_alarm ? "a safety alarm of the room stands" : "the room is not monitored");
  if (state.override_)
    return set(Decider::person, state.override_->output,
               fmt::format("{}: {}", state.override_->by, state.override_->because));
  if (!wish && runs_unasked(rules.duty)) return set(Decider::rest, 1.0, "it runs unless a person holds it still");
  if (!wish) return set(Decider::rest, 0.0, "nothing asks for it");
  if (!wish->output) return set(Decider::safe_state, output_of(rules.safe, situation.people_may_be_in), wish->because);
  set(Decider::loop, *wish->output, wish->because);
}

} // namespace

std::string_view name_of(Decider decider) {
  switch (decider) {
  case Decider::interlock: return "interlock";
  case Decider::safe_state: return "safe-state";
  case Decider::person: return "person";
  case Decider::loop: return "loop";
  case Decider::rest: return "rest";
  }
  return "";
}

std::string_view name_of(ActuatorEvent event) {
  switch (event) {
  case ActuatorEvent::run_ended: return "run-ended";
  case ActuatorEvent::override_ended: return "override-ended";
  case ActuatorEvent::tripped: return "tripped";
  case ActuatorEvent::blocked: return "blocked";
  case ActuatorEvent::free_again: return "free-again";
  }
  return "";
}

std::string_view words_of(ActuatorEvent event) {
  switch (event) {
  case ActuatorEvent::run_ended: return "its run has ended";
  case ActuatorEvent::override_ended: return "it is no longer worked by hand";
  case ActuatorEvent::tripped: return "stopped until a person releases it";
  case ActuatorEvent::blocked: return "blocked";
  case ActuatorEvent::free_again: return "no longer blocked";
  }
  return "";
}

std::string words_of(const ActuatorOrder& order) {
  switch (order.act) {
  case ActuatorAct::start: return "started";
  case ActuatorAct::end: return "ended";
  case ActuatorAct::hold:
    return fmt::format("held at {:.0f} % for {:.0f} min", order.output * 100.0,
                       alarms::seconds_of(order.duration) / 60.0);
  case ActuatorAct::automatic: return "given back to its loop";
  case ActuatorAct::release: return "released";
  }
  return "";
}

std::string_view name_of(ActuatorAct act) {
  switch (act) {
  case ActuatorAct::start: return "start";
  case ActuatorAct::end: return "end";
  case ActuatorAct::hold: return "hold";
  case ActuatorAct::automatic: return "automatic";
  case ActuatorAct::release: return "release";
  }
  return "";
}

std::string sentence_of(const std::vector<Block>& blocks) {
  std::string text;
  for (const auto& block : blocks) {
    if (!text.empty()) text += "; ";
    text += block.because.empty() ? fmt::format("not known that {}", words_of(block.condition)) : block.because;
  }
  return text;
}

ActuatorStep next(const ActuatorRules& rules, ActuatorState state, const Situation& situation, Facts facts,
                  const std::optional<Wish>& wish, Monotonic now) {
  ActuatorStep step{std::move(state), false, {}};
  const bool was_blocked = step.state.by == Decider::interlock && !step.state.blocks.empty();
  end_what_is_over(rules, step, now);
  add_own_facts(rules, step.state, now, facts);
  trip_if_due(rules, step, blocks(rules.duty, rules.asked_for, facts), now);
  add_own_facts(rules, step.state, now, facts);
  step.state.blocks = blocks(rules.duty, rules.asked_for, facts);
  decide(rules, step, situation, wish);
  const bool is_blocked = step.state.by == Decider::interlock && !step.state.blocks.empty();
  if (is_blocked && !was_blocked && !step.state.trip) step.news.push_back({ActuatorEvent::blocked, step.state.because});
  if (was_blocked && !is_blocked) step.news.push_back({ActuatorEvent::free_again, step.state.because});
  return step;
}

Ordered order(const ActuatorRules& rules, ActuatorState state, const Facts& facts, const ActuatorOrder& asked,
              Monotonic now) {
  const auto refuse = [&](std::string why) { return Ordered{state, std::move(why)}; };
  /// What stands in the way but for what this order itself brings about.
  const auto others = [&](std::initializer_list<Condition> brought_about) {
    Facts as_if = facts;
    add_own_facts(rules, state, now, as_if);
    for (const Condition condition : brought_about) as_if.set(condition, Truth::holds);
    return blocks(rules.duty, rules.asked_for, as_if);
  };
  switch (asked.act) {
  case ActuatorAct::start:
    if (!needs_a_run(rules.duty))
      return refuse(
          fmt::format("{} needs no start: its loop decides; \"hold\" works it by hand", words_of(rules.duty)));
    if (state.run)
      return refuse(fmt::format("{} has been started already, by {}", words_of(rules.duty), state.run->by));
    if (asked.because.empty()) return refuse("say why it is started");
    if (const auto left = others({Condition::started_by_person}); !left.empty())
      return refuse(fmt::format("{} cannot be started: {}", words_of(rules.duty), sentence_of(left)));
    state.run = StartedRun{asked.by, asked.because, now};
    return {state, ""};
  case ActuatorAct::end:
    if (!state.run) return refuse(fmt::format("{} has not been started", words_of(rules.duty)));
    state.run.reset();
    return {state, ""};
  case ActuatorAct::hold:
    if (!(asked.output >= 0.0 && asked.output <= 1.0)) return refuse("an output lies between 0 % and 100 %");
    if (asked.because.empty()) return refuse("say why it is worked by hand");
    if (asked.duration <= Monotonic{0} || asked.duration > hold_at_most)
      return refuse(fmt::format("say for how long, {} h at most",
                                std::chrono::duration_cast<std::chrono::hours>(hold_at_most).count()));
    // Whoever may work it by hand may not start it by that: a start is an order of its own.
    if (asked.output > 0.0)
      if (const auto left = others({}); !left.empty())
        return refuse(
            fmt::format("{} is blocked, and no one works it past that: {}", words_of(rules.duty), sentence_of(left)));
    state.override_ = Override{asked.output, asked.by, asked.because, now + asked.duration, now};
    return {state, ""};
  case ActuatorAct::automatic:
    if (!state.override_) return refuse(fmt::format("{} is not worked by hand", words_of(rules.duty)));
    state.override_.reset();
    return {state, ""};
  case ActuatorAct::release:
    if (!state.trip) return refuse(fmt::format("{} has not tripped", words_of(rules.duty)));
    if (asked.because.empty()) return refuse("say what was found, and why it may work again");
    if (const auto left = others({Condition::not_tripped, Condition::started_by_person}); !left.empty())
      return refuse(fmt::format("what tripped it, or something else, still stands: {}", sentence_of(left)));
    state.trip.reset();
    return {state, ""};
  }
  return refuse("nothing that can be asked of an actuator");
}

} // namespace oxherd::control
