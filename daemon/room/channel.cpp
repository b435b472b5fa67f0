#include "daemon/room/channel.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "config/measurands.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Reason;
using alarms::Status;

std::optional<Reason> fault_in_words(const drivers::Point& point, const drivers::Value& value) {
  switch (value.fault) {
  case drivers::ValueFault::none:
  case drivers::ValueFault::not_read: return std::nullopt;
  case drivers::ValueFault::bad_value:
    return Reason{Status::failure, fmt::format("{}: the device reports \"no value\"", point.name)};
  case drivers::ValueFault::not_finite:
    return Reason{Status::failure,
                  fmt::format("{}: not a number in the register: check the type and byte order", point.name)};
  case drivers::ValueFault::out_of_range:
    return Reason{Status::failure, fmt::format("{}: {:g} (SI) is outside what this input can give: broken wire, wrong "
                                               "unit or wrong byte order",
                                               point.name, value.si)};
  }
  return std::nullopt;
}

/// Exceptions 01 to 03 mean that the device will never answer this request: a wrong register map, not a passing fault.
bool refuses_for_good(const std::optional<drivers::BusError>& error) {
  return error && error->fault == drivers::BusFault::exception && error->exception_code >= 1 &&
         error->exception_code <= 3;
}

void take_value(const drivers::Point& point, ChannelState& channel, const drivers::Value& value, const Poll& poll) {
  if (value.fault == drivers::ValueFault::not_read) {
    if (!refuses_for_good(poll.error)) return; // the last sample stands until it is too old
    channel.si.reset();
    channel.fault = Reason{Status::failure, poll.error->detail};
    return;
  }
  channel.at = poll.at;
  channel.fault = fault_in_words(point, value);
  channel.si = channel.fault ? std::nullopt : std::optional{value.si};
  if (channel.si) {
    channel.last_good = channel.si;
    channel.last_good_at = poll.at;
  }
  channel.standstill = next(channel.standstill, value.raw, poll.at);
  channel.zeros_in_a_row = value.raw == 0.0 ? channel.zeros_in_a_row + 1 : 0;
}

} // namespace

Monotonic permitted_age(std::chrono::milliseconds every) {
  return std::max<Monotonic>(3 * every, std::chrono::seconds{5});
}

void take(const config::Sensor& settings, SensorState& state, const Poll& poll) {
  state.channels.resize(settings.points.size());
  state.error = poll.error;
  ++state.changes;
  bool anything = false;
  for (std::size_t i = 0; i < settings.points.size() && i < poll.values.size(); ++i) {
    anything = anything || poll.values[i].fault != drivers::ValueFault::not_read;
    take_value(settings.map.points[i], state.channels[i], poll.values[i], poll);
  }
  if (!anything) return;
  state.answered = poll.at;
  state.status.clear();
  for (std::size_t i = 0; i < settings.status.size() && i < poll.status.size(); ++i)
    if (poll.status[i]) state.status.push_back({settings.status[i].status, settings.status[i].text});
}

Monotonic grows_old_at(const config::Sensor& settings, const ChannelState& channel) {
  return channel.at + permitted_age(settings.every) + Monotonic{1};
}

JudgedChannel judge(const config::Sensor& settings, const SensorState& state, std::size_t point, Monotonic now) {
  JudgedChannel judged;
  judged.u_si = settings.points[point].u_si;
  if (point >= state.channels.size() || (!state.channels[point].si && !state.channels[point].fault)) {
    judged.reasons.push_back(
        {Status::failure, state.error ? fmt::format("no reading yet: {}", state.error->detail) : "no reading yet"});
    return judged;
  }
  const ChannelState& channel = state.channels[point];
  judged.reasons = state.status;
  if (state.in_hand) judged.reasons.push_back(*state.in_hand);
  if (channel.fault) judged.reasons.push_back(*channel.fault);
  const auto measurand = settings.points[point].measurand;
  const bool is_contact = config::contact_of(measurand) != nullptr; // stands for months
  // Of a gas the number stands, for it may be true: it goes on tripping what it trips, and is a fault to all else.
  const bool is_gas = measurand == config::Measurand::oxygen || measurand == config::Measurand::carbon_dioxide;
  if (!is_contact && is_stuck(channel.standstill, settings.stuck_after))
    judged.reasons.push_back({is_gas ? Status::out_of_specification : Status::failure,
                              stuck_text(settings.map.points[point].name, channel.standstill),
                              alarms::ReasonKind::stuck});
  if (const auto age = now - channel.at; now >= grows_old_at(settings, channel))
    judged.reasons.push_back(
        {Status::failure, state.error ? fmt::format("no reading for {} s: {}", age.count() / 1000, state.error->detail)
                                      : fmt::format("no reading for {} s", age.count() / 1000)});
  judged.status = alarms::gravest(judged.reasons);
  if (alarms::quality_of(judged.status) != alarms::Quality::bad) judged.si = channel.si;
  return judged;
}

std::string cause_of(const JudgedChannel& judged) {
  return judged.reasons.empty() ? std::string{"no reading"} : judged.reasons.back().text;
}

std::optional<std::size_t> point_of(const config::Sensor& sensor, config::Measurand measurand) {
  for (std::size_t i = 0; i < sensor.points.size(); ++i)
    if (sensor.points[i].measurand == measurand) return i;
  return std::nullopt;
}

} // namespace oxherd::daemon
