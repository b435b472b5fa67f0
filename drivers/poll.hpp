#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <vector>

#include "drivers/decode.hpp"
#include "drivers/register_bus.hpp"
#include "drivers/register_map.hpp"

namespace oxherd::drivers {

/// The requests that cover a register map. Every point lies whole inside one span, also when it alone is longer than
/// length_max; tables are never mixed. For bits the limits count bits.
/// @checked tests/drivers/plan_reads_test.cpp
[[nodiscard]] std::vector<Span> plan_reads(const RegisterMap& map, ReadLimits limits);

/// One device on a bus.
struct Device {
  int unit = 1; ///< Modbus unit identifier
  RegisterMap map{};
  ReadLimits limits{};
  std::chrono::milliseconds timeout{500};
  int retries = 1; ///< further tries of a failed request within one poll (exceptions 01 to 03 are not retried)
};

/// What one poll of one device brought. Values and status are in the order of the map.
struct PollResult {
  std::vector<Value> values;
  std::vector<bool> status;      ///< false also when its register could not be read; `error` is set then
  std::optional<BusError> error; ///< the last error, when any request failed in the end
  int requests = 0;
  int failures = 0; ///< failed requests, retries counted
};

/// Polls a device once. `plan` is plan_reads(device.map, device.limits), made once by the caller. After a request that
/// stays without answer the others are not tried: they would only keep the line from its other devices.
/// @checked tests/drivers/poll_test.cpp
[[nodiscard]] PollResult poll(RegisterBus& bus, const Device& device, const std::vector<Span>& plan);

/// One of several devices that are polled at once.
struct PlannedDevice {
  const Device* device = nullptr;
  const std::vector<Span>* plan = nullptr; ///< as above
};
/// Polls them with RegisterBus::read_together; all their spans must not be more than the bus takes at once. No result:
/// something of it was not read, so that poll() must be asked for the values or the error.
/// @checked tests/drivers/poll_test.cpp
[[nodiscard]] std::vector<std::optional<PollResult>> poll_together(RegisterBus& bus,
                                                                   std::span<const PlannedDevice> devices);

/// When a device is due next: on the grid of its period, with exponential back-off while it fails, so that a dead
/// device does not eat the time of its neighbours on the line.
struct Schedule {
  std::chrono::milliseconds every{1000};
  std::chrono::milliseconds back_off_max{30000};
};
/// Where a device stands on its grid; carried from poll to poll.
struct ScheduleState {
  std::chrono::milliseconds due{0}; ///< on the caller's monotonic clock
  int failures_in_a_row = 0;
};

/// How far into the period one of `count` devices with the same period is asked, so that they do not queue behind each
/// other at every beat. No turn is shorter than `turn`: on a bus with many devices, those of a turn are asked one after
/// the other, or at once, which spares the thread most of its wake-ups.
/// @checked tests/drivers/schedule_test.cpp
[[nodiscard]] std::chrono::milliseconds share_of_period(std::chrono::milliseconds every, std::size_t index,
                                                        std::size_t count, std::chrono::milliseconds turn);

/// Between one device and the next, where each waits for the reply of the one before; and where many are asked at once.
inline constexpr std::chrono::milliseconds turn_one_by_one{50}, turn_at_once{250};

/// Where the devices of one line stand when its polling begins. The beat before the first is due already: each is to be
/// asked once at once, in this order. From then on those of one period are spread over it, by share_of_period.
/// @checked tests/drivers/schedule_test.cpp
[[nodiscard]] std::vector<ScheduleState> at_start(std::span<const Schedule> devices, std::chrono::milliseconds now,
                                                  std::chrono::milliseconds turn = turn_one_by_one);

/// Which of them is asked next: each once in their order, of which `asked_once` have been, then whoever is due first.
/// @return  its index; 0 when there is none at all
[[nodiscard]] std::size_t next_due(std::span<const ScheduleState> states, std::size_t asked_once);

/// Who else is due when one is asked, in the order in which they would be asked next. Those that failed at the last
/// try are left out: they would keep the others waiting.
/// @checked tests/drivers/schedule_test.cpp
[[nodiscard]] std::vector<std::size_t> due_besides(std::span<const ScheduleState> states, std::size_t asked_once,
                                                   std::size_t asked, std::chrono::milliseconds now);

/// The next beat after a poll that ended at `now`: the first one ahead, and with each failure in a row after the first
/// twice as many beats on, up to back_off_max. Missed beats are skipped; the grid itself never shifts.
/// @checked tests/drivers/schedule_test.cpp
[[nodiscard]] ScheduleState after_poll(const Schedule& schedule, ScheduleState state, bool answered,
                                       std::chrono::milliseconds now);

} // namespace oxherd::drivers
