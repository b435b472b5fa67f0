#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/store/store.hpp"

// A quantity of one sensor over any time, from minutes to years, in steps that a plot can show.
namespace oxherd::daemon {

/// What can be plotted, by the names that people and programs use, in their units.
struct TrendQuantity {
  std::string_view name;   ///< "temperature_c"
  std::string_view column; ///< of the table of readings, SI
  double factor, offset;   ///< from SI
};
/// Null when there is none of that name.
[[nodiscard]] const TrendQuantity* trend_quantity_named(std::string_view name);
/// "dry_fraction, u_dry_fraction, ..."
[[nodiscard]] std::string trend_quantity_names();

inline constexpr int trend_points_max = 5000;

struct TrendQuery {
  std::string room, sensor;
  const TrendQuantity* quantity = nullptr; ///< not null
  WallTime from, to;                       ///< `to` is later
  int points = 600;                        ///< steps at most: 2 to trend_points_max
};

/// What was recorded in one step. No peak is ever hidden: least and greatest are those of the readings themselves.
struct TrendStep {
  WallTime middle;
  std::optional<double> least{}, greatest{}, mean{}; ///< of good and uncertain readings; empty: there were none
  std::int64_t bad = 0;                              ///< readings whose value cannot be used
};

struct Trend {
  WallTime from, to; ///< as asked
  std::chrono::milliseconds step{0};
  std::vector<TrendStep> steps; ///< those in which something was recorded, oldest first
};

/// What `points` allow; no plot has shorter steps.
[[nodiscard]] std::chrono::milliseconds least_step(const TrendQuery& query);

/// The length of a step of a plot that is made of rows of this length, whole rows to a step, or one would now and then
/// hold one row more than its neighbours.
/// @param rows_ms  0: of the readings themselves
[[nodiscard]] std::chrono::milliseconds trend_step(const TrendQuery& query, std::int64_t rows_ms);

/// Read-only, on a connection of its own. Short times come from the readings, longer ones from their minutes or hours.
[[nodiscard]] tl::expected<Trend, StoreError> trend(const std::filesystem::path& state_dir, const TrendQuery& query);

} // namespace oxherd::daemon
