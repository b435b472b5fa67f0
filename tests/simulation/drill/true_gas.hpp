#pragma once

#include <optional>
#include <span>

#include "tests/simulation/drill/happening.hpp"
#include "tests/simulation/drill/site_plan.hpp"

namespace oxherd::drill {

/// What its contacts and its carbon dioxide probe are there to tell of a room with gas, as it truly is.
class TrueGas {
public:
  explicit TrueGas(const RoomPlan& plan) : plan_{plan} {}
  bool door_open = false, people_in = false;
  void advance_to(double t_s, bool flows, double air_per_s);
  [[nodiscard]] double carbon_dioxide() const { return carbon_dioxide_; } ///< ratio

private:
  const RoomPlan& plan_;
  double carbon_dioxide_ = 420e-6, now_s_ = 0.0;
};

/// How an input is untrue.
enum class Lie { none, reassures, alarms, sticks };

/// The contact or carbon dioxide probe that something befalls; empty: another thing, or the room has none.
[[nodiscard]] std::optional<std::size_t> input_befallen(const RoomPlan& plan, const Happening& h);
/// What befalls that input makes it say.
[[nodiscard]] Lie lie_of(const Happening& h);

/// Air that comes in beyond what always does, changes a second: doors stand open.
[[nodiscard]] double air_by_doors_per_s(std::span<const Happening* const> active, std::size_t room);
/// Whether a door of the room stands open at some time.
[[nodiscard]] bool opens_door(const Happening& h, Monotonic now);

} // namespace oxherd::drill
