#include "control/aids/dilution.hpp"

#include <cmath>

namespace oxherd::control {

namespace {

constexpr double gas_constant = 8.31446261815324; // J/(mol K)

double flow_m3_s(const Dilution& room) { return room.supply_m3_s + room.leak_m3_s; }
double rate_per_s(const Dilution& room) { return flow_m3_s(room) / (room.mixing * room.volume_m3); }
bool is_ratio(double value) { return value >= 0.0 && value <= 1.0; } // false for NaN

/// How fast the fraction changes at some value.
double slope_per_s(const Dilution& room, double at) {
  const double flows = room.supply_m3_s * (room.supply_fraction - at) + room.leak_m3_s * (room.outdoor_fraction - at);
  return (flows / room.mixing + room.source_m3_s) / room.volume_m3;
}

} // namespace

std::string fault_of(const Dilution& room) {
  if (!(room.volume_m3 > 0.0) || !std::isfinite(room.volume_m3)) return "the room's free volume must be above 0 m3";
  if (!(room.mixing >= 1.0) || !std::isfinite(room.mixing)) return "the mixing factor must be 1 or more";
  if (!(room.supply_m3_s >= 0.0) || !std::isfinite(room.supply_m3_s)) return "the supply's flow must be 0 or more";
  if (!(room.leak_m3_s >= 0.0) || !std::isfinite(room.leak_m3_s)) return "the leak must be 0 or more";
  if (!is_ratio(room.supply_fraction)) return "the supply's fraction must be from 0 to 100 %";
  if (!is_ratio(room.outdoor_fraction)) return "the outdoor fraction must be from 0 to 100 %";
  if (!std::isfinite(room.source_m3_s)) return "the source must be a number";
  return {};
}

double fraction_after(const Dilution& room, double from, double t_s) {
  const double rate = rate_per_s(room);
  const double acted_s = rate > 0.0 ? -std::expm1(-rate * t_s) / rate : t_s; // expm1: slow rooms keep their digits
  return from + slope_per_s(room, from) * acted_s;
}

std::optional<double> end_fraction(const Dilution& room) {
  if (!(flow_m3_s(room) > 0.0)) return std::nullopt;
  return (room.supply_m3_s * room.supply_fraction + room.leak_m3_s * room.outdoor_fraction +
          room.mixing * room.source_m3_s) /
         flow_m3_s(room);
}

std::optional<double> time_to_reach_s(const Dilution& room, const Course& course) {
  const double way = course.to - course.from;
  if (way == 0.0) return 0.0;
  const double slope = slope_per_s(room, course.from);
  const double straight_s = way / slope;                                      // at the first speed
  if (!(straight_s > 0.0) || !std::isfinite(straight_s)) return std::nullopt; // away from it, or not at all
  const double rate = rate_per_s(room);
  if (!(rate > 0.0)) return straight_s;
  const double done = rate * straight_s; // the share of the way to the end value
  if (!(done < 1.0)) return std::nullopt;
  return -std::log1p(-done) / rate;
}

std::optional<double> supply_used_m3(const Dilution& room, const Course& course) {
  const auto t_s = time_to_reach_s(room, course);
  if (!t_s) return std::nullopt;
  return *t_s * room.supply_m3_s;
}

double volume_flow_m3_s(const MolarFlow& flow) { return flow.mol_s * gas_constant * flow.t_K / flow.p_Pa; }

} // namespace oxherd::control
