#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/logfile/failure.hpp"
#include "daemon/logfile/layout.hpp"
#include "daemon/logfile/recipe.hpp"
#include "daemon/rehearse/data_columns.hpp"
#include "daemon/rehearse/sample.hpp"

namespace oxherd::daemon::rehearse {

/// What is asked of a table, and what its names may refer to.
struct CsvWanted {
  const std::vector<config::Room>& rooms;         ///< of the rules
  std::optional<std::string> room;                ///< only this one, and the room of plain columns such as "oxygen [%]"
  std::optional<std::chrono::milliseconds> every; ///< period of the samples; empty: found out
  std::optional<std::string> zone;                ///< of times that state no offset; empty: UTC
  std::optional<std::string> time_format;         ///< empty: found out
};

/// Where the values of one channel stand; -1: nowhere.
struct CsvChannel {
  int value = -1, u = -1, po2 = -1, u_po2 = -1, quality = -1, status = -1, reason = -1;
  compensation::Unit unit{}, u_unit{}, po2_unit{}, u_po2_unit{};
  double u_assumed = 0.0; ///< where no column gives it: that of the sensor in the rules
};

/// Where everything stands in one table. A long one has a row for each sample, with the names of room and sensor in it;
/// a wide one has a column for each channel.
struct CsvLayout {
  logfile::Layout table;
  logfile::TimeColumns time;
  bool states_offset = false;
  std::vector<DataChannel> channels;
  std::vector<CsvChannel> columns; ///< by channel
  bool is_long = false;
  int room = -1, sensor = -1;
  std::optional<std::string> only_room;                                            ///< of a long table without rooms
  std::map<std::pair<std::string, std::string>, std::size_t, std::less<>> by_name; ///< channels of a long table
  std::vector<std::string> not_used; ///< columns, or sensors of a long table
};

/// A permitted span, SI.
struct Span {
  double low, high;
};
inline constexpr Span oxygen_span{-0.05, 1.05}; ///< noise around nothing and around pure oxygen
inline constexpr Span carbon_dioxide_span{-0.001, 1.0};
inline constexpr Span pressure_span{-5e3, 2e5}; ///< of oxygen, Pa

/// Finds out from its first bytes what a table holds.
/// @param text  without a byte order mark
/// @return Failure that says which columns there are, which are wanted, and how to name them
[[nodiscard]] tl::expected<CsvLayout, logfile::Failure> find_csv_layout(std::string_view text, const std::string& file,
                                                                        const CsvWanted& wanted);

} // namespace oxherd::daemon::rehearse
