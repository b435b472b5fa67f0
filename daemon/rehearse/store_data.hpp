#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "daemon/rehearse/data_source.hpp"
#include "daemon/store/gas_readings.hpp"

namespace oxherd::daemon::rehearse {

/// What is asked of the recorded readings.
struct StoreWanted {
  const std::vector<config::Room>& rooms;         ///< of the rules
  std::optional<std::string> room;                ///< only this one
  std::optional<std::chrono::milliseconds> every; ///< period of the samples; empty: found out
  WallTime from, to;                              ///< both belong to it
};

/// The readings that a daemon recorded in its state directory, as they were recorded first: what its alarms saw.
class StoreData final : public DataSource {
public:
  [[nodiscard]] static tl::expected<std::unique_ptr<StoreData>, logfile::Failure>
  open(const std::filesystem::path& state_dir, const StoreWanted& wanted);

  [[nodiscard]] const std::vector<DataChannel>& channels() const override { return channels_; }
  [[nodiscard]] tl::expected<bool, logfile::Failure> next(SamplesAt& to) override;
  [[nodiscard]] const DataNotes& notes() const override { return notes_; }
  [[nodiscard]] std::optional<double> part() const override { return readings_.part(); }

private:
  explicit StoreData(GasReadings readings) : readings_{std::move(readings)} {}
  void find_channels(const StoreWanted& wanted);
  [[nodiscard]] tl::expected<void, logfile::Failure> find_periods(const StoreWanted& wanted);
  /// Whether the row has a sample to take.
  [[nodiscard]] bool take(GasReadingRow& row, SamplesAt& to);

  GasReadings readings_;
  std::vector<DataChannel> channels_;
  std::map<std::int64_t, std::size_t> by_sensor_; ///< channels by the store's numbers of sensors
  std::map<std::string, WallTime> newest_;        ///< by room
  std::vector<GasReadingRow> first_;              ///< read already, to find the periods
  std::size_t given_ = 0;                         ///< of these
  DataNotes notes_;
};

} // namespace oxherd::daemon::rehearse
