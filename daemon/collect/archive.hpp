#pragma once

#include <memory>
#include <string>
#include <vector>

#include "daemon/collect/fleet.hpp"
#include "daemon/collect/historian.hpp"
#include "daemon/collect/settings.hpp"
#include "daemon/control_socket/requests.hpp"
#include "daemon/store/history.hpp"
#include "daemon/store/trend.hpp"

namespace oxherd::daemon::collect {

/// Reads the records of all sites, on a read-only connection of its own. Rooms are named SITE/ROOM. After an error it
/// is of no more use; make a new one. Used from one thread.
class Archive {
public:
  [[nodiscard]] static tl::expected<std::unique_ptr<Archive>, HistorianError> open(const DatabaseSettings& database);
  ~Archive();
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  /// Every room with what stands now; a channel that was silent for an hour has no sample here.
  [[nodiscard]] tl::expected<std::vector<FleetRoom>, HistorianError> rooms();
  [[nodiscard]] tl::expected<AlarmHistory, HistorianError> alarms(const HistoryQuery& query);
  [[nodiscard]] tl::expected<ReadingHistory, HistorianError> readings(const HistoryQuery& query);
  [[nodiscard]] tl::expected<Trend, HistorianError> trend(const TrendQuery& query);

private:
  explicit Archive(std::shared_ptr<pqxx::connection_base> connection);
  std::shared_ptr<pqxx::connection_base>
      connection_; ///< shared_ptr knows how to end it: the base has no virtual destructor
};

} // namespace oxherd::daemon::collect
