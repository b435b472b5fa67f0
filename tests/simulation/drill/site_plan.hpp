#pragma once

#include <optional>
#include <string>
#include <vector>

#include "alarms/voting.hpp"
#include "config/settings.hpp"
#include "tests/simulation/drill/chance.hpp"
#include "tests/simulation/drill/gas_plan.hpp"

namespace oxherd::drill {

/// An oxygen cell as it truly is. All its errors lie within the uncertainties that the settings state.
struct TrueCell {
  compensation::CellModel model = compensation::CellModel::concentration;
  double zero_mV = 0.0, in_air_mV = 12.0; ///< at its calibration
  double zero_error_mV = 0.0, error_mV = 0.0, noise_mV = 0.0;
  double lag_s = 4.0;          ///< time constant; t90 is 2.3 times that
  double loss_per_month = 0.0; ///< of its sensitivity, within what the settings allow for
};

/// An ambient probe as it truly is.
struct TrueProbe {
  double temperature_error_K = 0.0, humidity_error = 0.0, pressure_error_Pa = 0.0;
};

/// One room: what the settings say of it, and how its air behaves.
struct RoomPlan {
  std::string name;
  alarms::Scheme vote = alarms::Scheme::one_of_one;
  std::vector<TrueCell> cells; ///< the first sensors of the room; then its probe, then what its gas asks for
  TrueProbe probe;
  double every_s = 10.0, probe_every_s = 10.0; ///< poll periods
  double limit = 0.195, on_delay_s = 3.0, off_delay_s = 10.0;
  double blind_on_delay_s = 10.0; ///< of the alarm that it is not monitored
  double air_changes_h = 1.0;     ///< with doors closed
  double temperature_C = 21.0, swing_K = 2.0, humidity = 0.5;
  GasPlan gas{};
  /// Cells and probe.
  [[nodiscard]] std::size_t sensors() const { return cells.size() + 1; }
  [[nodiscard]] std::size_t probe_at() const { return cells.size(); }
  // Empty: the room has none.
  [[nodiscard]] std::optional<std::size_t> door_at() const;
  [[nodiscard]] std::optional<std::size_t> people_at() const;
  [[nodiscard]] std::optional<std::size_t> carbon_dioxide_at() const;
};

struct SitePlan {
  double elevation_m = 212.0, mean_pressure_Pa = 98800.0;
  std::vector<RoomPlan> rooms;
  double polls_a_day() const;
  bool has_gas() const;
};

/// Under these conditions every cell was calibrated.
inline constexpr double calibrated_C = 21.0, calibrated_humidity = 0.45, calibrated_Pa = 99800.0;

/// How many of the sites have rooms that a gas is let into: of those that poll fast.
inline constexpr double with_gas = 0.25;
[[nodiscard]] SitePlan drawn_site(Chance& chance, double gas_share = with_gas);
/// The settings file that a person would have written for it.
[[nodiscard]] std::string settings_text(const SitePlan& site);
/// Read by the reader of the daemon; whatever is wrong with the text throws.
[[nodiscard]] config::Settings settings_of(const SitePlan& site);

} // namespace oxherd::drill
