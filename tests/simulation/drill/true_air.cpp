#include "tests/simulation/drill/true_air.hpp"

#include <cmath>
#include <numbers>

namespace oxherd::drill {
namespace {

constexpr double fresh = 0.20946, seconds_a_day = 86400.0;

double wave(double t_s, double period_s, double phase) {
  return std::sin(2.0 * std::numbers::pi * (t_s / period_s + phase));
}

/// Saturation pressure over water, Magnus (WMO-No. 8, from memory): within 0.3 % from 0 °C to 40 °C.
double saturation_Pa(double t_C) { return 611.2 * std::exp(17.62 * t_C / (243.12 + t_C)); }

/// What a cell of this model follows, of gas with this dry fraction.
double followed(compensation::CellModel model, double dry, double t_C, double humidity, double p_Pa) {
  const double po2_Pa = dry * (p_Pa - humidity * saturation_Pa(t_C));
  if (model == compensation::CellModel::concentration) return po2_Pa / (t_C + 273.15);
  return model == compensation::CellModel::partial_pressure ? po2_Pa : po2_Pa / p_Pa;
}

} // namespace

TrueAmbient ambient_at(const SitePlan& site, std::size_t room, std::uint64_t seed, double t_s) {
  const auto& plan = site.rooms[room];
  const auto phase = [&](std::uint64_t which) { return noise(seed, 1000 + which, 0); };
  TrueAmbient air;
  air.temperature_C = plan.temperature_C + plan.swing_K * wave(t_s, seconds_a_day, phase(room));
  air.humidity = std::clamp(plan.humidity + 0.08 * wave(t_s, 1.3 * seconds_a_day, phase(10 + room)), 0.05, 0.98);
  air.pressure_Pa = site.mean_pressure_Pa + 900.0 * wave(t_s, 5.1 * seconds_a_day, phase(20)) +
                    600.0 * wave(t_s, 2.3 * seconds_a_day, phase(21)) +
                    300.0 * wave(t_s, 0.6 * seconds_a_day, phase(22));
  return air;
}

TrueAir::TrueAir(const RoomPlan& room)
    : room_{room}, at_cells_(room.cells.size(), fresh), oxygen_{fresh}, below_since_s_{NAN}, near_until_s_{-INFINITY} {
  set_flows(0.0, room.air_changes_h / 3600.0);
}

void TrueAir::set_flows(double nitrogen_per_s, double air_per_s) {
  rate_per_s_ = nitrogen_per_s + air_per_s;
  settles_at_ = fresh * air_per_s / rate_per_s_;
}

void TrueAir::advance_to(double t_s) {
  const double passed_s = t_s - now_s_;
  if (passed_s <= 0.0) return;
  const double off = oxygen_ - settles_at_;
  const double decay = std::exp(-rate_per_s_ * passed_s);
  for (std::size_t c = 0; c < at_cells_.size(); ++c) {
    double k = 1.0 - rate_per_s_ * room_.cells[c].lag_s;
    if (std::abs(k) < 1e-6) k = 1e-6; // the two time constants are equal: beside that the solution is the same
    const double driven = off / k;
    at_cells_[c] = settles_at_ + driven * decay +
                   (at_cells_[c] - settles_at_ - driven) * std::exp(-passed_s / room_.cells[c].lag_s);
  }
  const double before = oxygen_;
  oxygen_ = settles_at_ + off * decay;
  if (oxygen_ >= room_.limit)
    below_since_s_ = NAN;
  else if (std::isnan(below_since_s_)) // the oxygen goes one way between changes
    below_since_s_ = before < room_.limit ? now_s_ : now_s_ + std::log(off / (room_.limit - settles_at_)) / rate_per_s_;
  if (std::min(before, oxygen_) <= room_.limit + guard) near_until_s_ = t_s;
  now_s_ = t_s;
}

double signal_mV(const TrueCell& cell, double dry_fraction, const TrueAmbient& air, double age_s) {
  const double now = followed(cell.model, dry_fraction, air.temperature_C, air.humidity, air.pressure_Pa);
  const double then = followed(cell.model, fresh, calibrated_C, calibrated_humidity, calibrated_Pa);
  const double zero_mV = cell.zero_mV + cell.zero_error_mV;
  const double left = 1.0 - cell.loss_per_month * age_s / (30.0 * seconds_a_day);
  return zero_mV + (cell.in_air_mV - zero_mV) * left * now / then + cell.error_mV;
}

} // namespace oxherd::drill
