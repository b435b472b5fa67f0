#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/bus/bus_worker.hpp"
#include "daemon/http/http_server.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/notify/health.hpp"
#include "daemon/outputs/output_keeper.hpp"
#include "daemon/room/site.hpp"
#include "daemon/sparkplug/sink.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// What is not of a room: the site, and how the parts around the decision core are doing.
struct Surroundings {
  std::string site, version;
  WallTime started;
  std::vector<std::pair<std::string, BusHealth>> buses;
  std::vector<OutputHealth> outputs;
  std::map<std::string, ProofRecord> proofs;  ///< by the name of the output
  std::optional<sparkplug::Health> sparkplug; ///< likewise
  std::optional<MqttHealth> mqtt;             ///< absent when none is configured
  std::optional<notify::NotifyHealth> notify; ///< absent when nobody is to be told
  std::optional<http::HttpHealth> http;       ///< absent when the page is off
  StoreHealth store;
  std::uint64_t evaluations = 0, polls_dropped = 0;
};

/// Result of the `status` request: every room, bus, output, broker and store, with the caution.
[[nodiscard]] std::string status_answer(const std::vector<RoomStatus>& rooms, const Surroundings& around,
                                        WallTime wall);
/// Result of the `alarms` request: unacknowledged first, then by priority, then oldest first.
[[nodiscard]] std::string alarms_answer(const std::vector<RoomStatus>& rooms, WallTime wall);

} // namespace oxherd::daemon
