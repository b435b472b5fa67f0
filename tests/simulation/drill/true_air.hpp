#pragma once

#include "tests/simulation/drill/site_plan.hpp"

namespace oxherd::drill {

/// The ambient air of a room at some time, as it truly is.
struct TrueAmbient {
  double temperature_C = 21.0, humidity = 0.5, pressure_Pa = 98800.0;
};
/// Weather and the day's course; a function of seed and time alone.
[[nodiscard]] TrueAmbient ambient_at(const SitePlan& site, std::size_t room, std::uint64_t seed, double t_s);

/// Oxygen in a room (dry fraction), and what its cells have followed of it, solved exactly from change to change:
/// nitrogen comes in, fresh air comes in, and both leave mixed.
class TrueAir {
public:
  explicit TrueAir(const RoomPlan& room);
  /// What comes in from now on, in changes of the room's air a second.
  void set_flows(double nitrogen_per_s, double air_per_s);
  /// Lets time pass, with the flows as they are.
  void advance_to(double t_s);

  [[nodiscard]] double oxygen() const { return oxygen_; }
  [[nodiscard]] double at_cell(std::size_t cell) const { return at_cells_[cell]; } ///< with the cell's lag
  /// Since when it has been below the limit; NAN: it is not.
  [[nodiscard]] double below_since_s() const { return below_since_s_; }
  /// When the oxygen was last at or below a level somewhat above the limit; -inf: never.
  [[nodiscard]] double near_limit_until_s() const { return near_until_s_; }

private:
  const RoomPlan& room_;
  std::vector<double> at_cells_;
  double oxygen_, now_s_ = 0.0;
  double rate_per_s_ = 0.0, settles_at_ = 0.0;
  double below_since_s_, near_until_s_;
};

/// The signal of a cell that sees this much oxygen. Formed here by the cells' laws, not by the code under test.
[[nodiscard]] double signal_mV(const TrueCell& cell, double dry_fraction, const TrueAmbient& air, double age_s);

/// So much above a limit an alarm may come all the same: limits are judged at the unfavourable end of the uncertainty.
inline constexpr double guard = 0.005;

} // namespace oxherd::drill
