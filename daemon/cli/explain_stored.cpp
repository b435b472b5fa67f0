#include "daemon/cli/explain_stored.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/explain_options.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/replay/rederive.hpp"
#include "daemon/room/gas_reading.hpp"
#include "daemon/signal_errors.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

PlacedGas placed(const OxygenInputs& inputs, const ReadingBasis& basis) {
  const auto source = [&inputs](const std::string& configured, alarms::ReasonKind lost) {
    const bool assumed = std::ranges::find(inputs.gas_reasons, lost, &alarms::Reason::kind) != inputs.gas_reasons.end();
    return assumed ? configured + ", LOST: assumed" : configured;
  };
  PlacedGas out;
  out.gas = inputs.gas;
  out.temperature_from = source(basis.temperature_from, alarms::ReasonKind::temperature_lost);
  out.humidity_from = source(basis.humidity_from, alarms::ReasonKind::humidity_lost);
  out.pressure_from = source(basis.pressure_from, alarms::ReasonKind::pressure_lost);
  return out;
}

/// The calibration in force and what follows from it alone.
void add_calibration(const ReadingBasis& basis, WallTime at, Explanation& out) {
  if (!basis.calibration) return;
  const auto& active = *basis.calibration;
  out.calibration = active.calibration;
  out.at_calibration.gas = active.calibration.span.gas;
  if (const auto characteristic = compensation::characterise(*out.cell, active.calibration))
    out.characteristic = *characteristic;
  out.errors = signal_errors(*basis.cell, at - active.at.value_or(at));
  if (!active.at) return;
  out.calibration_age_s = std::chrono::duration<double>(at - *active.at).count();
  if (*out.calibration_age_s > 0.0) out.drift_per_month = basis.cell->drift_per_month;
}

AnswerError not_there(const StoredQuestion& question) {
  const auto when = question.at ? fmt::format("at {} nor in the day before it", rfc3339_local(*question.at))
                                : std::string{"in the last day; --at asks for earlier ones"};
  return {failed,
          fmt::format("{}/{} has no recorded oxygen reading {}; `oxherd history readings --room {} --last 7d` "
                      "shows what was recorded",
                      printable(question.room), printable(question.sensor), when, printable(question.room)),
          "none"};
}

tl::expected<RecordedOxygen, AnswerError>
from_files(const StoredQuestion& question, const std::filesystem::path& state_dir, const std::string& no_daemon_says) {
  const auto now = wall_now();
  auto found = oxygen_at(state_dir, question.room, question.sensor, question.at.value_or(now));
  if (!found) return tl::unexpected(AnswerError{no_daemon, fmt::format("{}; {}", no_daemon_says, found.error().what)});
  if (!*found) return tl::unexpected(not_there(question));
  return std::move(**found);
}

} // namespace

tl::expected<StoredQuestion, std::string> read_stored_question(const Arguments& arguments) {
  const auto own = stored_options();
  const auto asking = std::ranges::find_if(own, [&](std::string_view option) { return arguments.given(option); });
  for (const auto& option : explain_options()) {
    const bool shared = option.name == "--json" || std::ranges::find(own, option.name) != own.end();
    if (!shared && arguments.given(option.name))
      return tl::unexpected(fmt::format("{} asks for a recorded reading, and {} is a typed value: give the one or the "
                                        "other",
                                        asking == own.end() ? "--room" : *asking, option.name));
  }
  StoredQuestion out{arguments.value_or("--room", ""), arguments.value_or("--sensor", ""), std::nullopt};
  if (out.room.empty())
    return tl::unexpected(std::string{"--room is missing: which room's reading is to be explained?"});
  if (out.sensor.empty())
    return tl::unexpected(
        std::string{"--sensor is missing: `oxherd status` lists the sensors of a room, such as --sensor cell-a"});
  const auto at = arguments.value("--at");
  if (!at) return out;
  out.at = parse_rfc3339(*at);
  if (!out.at)
    return tl::unexpected(fmt::format("--at: \"{}\" is not a time; write it with its offset, such as "
                                      "\"2026-03-01T08:00:00+01:00\" or \"2026-03-01T07:00:00Z\"",
                                      printable(*at)));
  return out;
}

tl::expected<RecordedOxygen, AnswerError> fetch_recorded(const StoredQuestion& question,
                                                         const std::filesystem::path& state_dir, std::string& note) {
  nlohmann::json request{{"command", "recorded"}, {"room", question.room}, {"sensor", question.sensor}};
  if (question.at) request["at"] = rfc3339(*question.at);
  const auto answer = ask(state_dir, request);
  if (answer) {
    auto recorded = recorded_from(answer->dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
    if (recorded) return std::move(*recorded);
    return tl::unexpected(AnswerError{failed, printable(recorded.error())});
  }
  if (answer.error().exit == no_daemon) {
    auto recorded = from_files(question, state_dir, answer.error().what);
    if (recorded) note = fmt::format("no daemon answers in {}: this is the record it left", state_dir.string());
    return recorded;
  }
  return tl::unexpected(answer.error().kind == "none" ? not_there(question) : answer.error());
}

Explanation explanation_of(RecordedOxygen recorded) {
  const auto& basis = recorded.basis_now();
  const auto& inputs = recorded.inputs;
  auto formed = oxygen_reading(basis, inputs, recorded.at);
  Explanation out;
  out.now = placed(inputs, basis);
  out.reports_dry = basis.reports_dry;
  if (basis.cell) {
    out.cell = basis.cell->cell;
    out.serial = basis.cell->serial;
    out.calibrate_every = basis.cell->upkeep.calibrate_every;
    if (inputs.si) out.signal = {Signal::from_si(*inputs.si), inputs.u_si};
    add_calibration(basis, recorded.at, out);
  } else if (inputs.si) {
    out.reported = {DryFraction::from_si(*inputs.si), inputs.u_si};
  }
  out.reading = formed.oxygen;
  auto reasons = inputs.other_reasons;
  reasons.insert(reasons.end(), formed.reasons.begin(), formed.reasons.end());
  auto anew = form_anew(basis, inputs, recorded.at);
  auto first = form_anew(*recorded.basis, inputs, recorded.at);
  out.stored = RecordedFacts{std::move(recorded), std::move(anew), std::move(first), std::move(reasons)};
  return out;
}

} // namespace oxherd::daemon::cli
