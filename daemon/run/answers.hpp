#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/bus/bus_worker.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/notify/health.hpp"
#include "daemon/outputs/output_keeper.hpp"
#include "daemon/room/site.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// How the parts around the decision core are doing.
struct Surroundings {
  std::string version;
  WallTime started;
  std::vector<std::pair<std::string, BusHealth>> buses;
  std::vector<OutputHealth> outputs;
  std::map<std::string, ProofRecord> proofs;  ///< by the name of the output
  std::optional<MqttHealth> mqtt;             ///< absent when none is configured
  std::optional<notify::NotifyHealth> notify; ///< absent when nobody is to be told
  StoreHealth store;
  std::uint64_t polls_dropped = 0;
};

/// Result of the `status` request: every room, bus, output, broker and store, with the caution.
[[nodiscard]] std::string status_answer(const Site& site, const Surroundings& around, Monotonic now, WallTime wall);
/// Result of the `alarms` request: unacknowledged first, then by priority, then oldest first.
[[nodiscard]] std::string alarms_answer(const Site& site, Monotonic now, WallTime wall);

} // namespace oxherd::daemon
