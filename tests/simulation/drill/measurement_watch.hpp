#pragma once

#include <cstdint>
#include <deque>
#include <filesystem>
#include <string>
#include <vector>

#include "daemon/room/site.hpp"

namespace oxherd::drill {

/// What the file of measurements must hold: all that was handed over, in its order, but for the oldest that gave way in
/// a full queue, what waited when the program ended, and what a power loss takes from the end.
class MeasurementWatch {
public:
  void handed(const daemon::Outcome& outcome); ///< its rows wait
  void gave_way(std::uint64_t in_all);         ///< so many rows since the start of the program
  void waiting(std::uint64_t rows);            ///< after a turn of the writer: those before are in the file
  void left();                                 ///< the program is gone, and with it what waited
  void power_lost() { may_lack_ = true; }

  /// At a start of the daemon, of the newest rows. What is wrong; empty: nothing.
  [[nodiscard]] std::string look_at_end(const std::filesystem::path& state_dir);
  /// Of every row, and of the steps that are made of them.
  [[nodiscard]] std::string look_at_all(const std::filesystem::path& state_dir) const;
  [[nodiscard]] std::uint64_t dropped() const { return dropped_; }
  [[nodiscard]] std::uint64_t lost_with_power() const { return lost_with_power_; }
  [[nodiscard]] std::uint64_t lost_waiting() const { return lost_waiting_; }
  [[nodiscard]] std::size_t recorded() const { return samples_.size() + readings_.size(); }

private:
  struct Row {
    bool is_sample;
    std::int64_t at_ms;
    std::string of; ///< "room/sensor"
  };
  using Rows = std::vector<Row>;
  [[nodiscard]] static std::string difference(const std::filesystem::path& state_dir, const Rows& rows,
                                              std::size_t from, bool samples);

  std::deque<Row> waiting_;
  Rows samples_, readings_; ///< in the file
  bool may_lack_ = false;
  std::uint64_t gave_way_ = 0, dropped_ = 0, lost_with_power_ = 0, lost_waiting_ = 0;
};

} // namespace oxherd::drill
