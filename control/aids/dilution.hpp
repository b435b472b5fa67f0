#pragma once

#include <optional>
#include <string>

namespace oxherd::control {

/// A room whose air is diluted by a supply, while outdoor air leaks in and goods make or use the gas.
///
///   V dC/dt = (Q (Cs - C) + L (Ca - C)) / K + S
///
/// K is the mixing factor: of the flows only 1/K does its work. Without leak and source this is the usual
/// C = Cs + (C0 - Cs) exp(-Q t / (K V)). The pressure stays: what comes in drives as much out.
struct Dilution {
  double volume_m3 = 0;             ///< free volume: goods take 30 to 50 % of a store
  double mixing = 1;                ///< K, 1 where it is well mixed, 2 to 3 where poorly (from memory)
  double supply_m3_s = 0;           ///< at the room's pressure and temperature
  double supply_fraction = 0;       ///< of the gas in the supply, ratio
  double leak_m3_s = 0;             ///< outdoor air
  double outdoor_fraction = 0.2095; ///< ratio
  double source_m3_s = 0;           ///< pure gas that goods or people give; negative where they use it: respiration
};

/// Why no forecast can be made, for a person; empty when one can.
[[nodiscard]] std::string fault_of(const Dilution& room);

/// A stretch in the course of a fraction; ratios.
struct Course {
  double from = 0;
  double to = 0;
};

/// What the room holds after some time. The room must have no fault, the time be 0 or more. A source that would go
/// on using what is no longer there gives a negative fraction: it is not told here when respiration ceases.
[[nodiscard]] double fraction_after(const Dilution& room, double from, double t_s);

/// Where the room comes to rest. Empty when nothing flows, unless nothing changes it either: then it is not known.
[[nodiscard]] std::optional<double> end_fraction(const Dilution& room);

/// How long the fraction takes. 0 when it is there; empty when it never gets there: the end value is not beyond.
[[nodiscard]] std::optional<double> time_to_reach_s(const Dilution& room, const Course& course);

/// Supply used meanwhile, at the room's pressure and temperature. Empty as the time is.
[[nodiscard]] std::optional<double> supply_used_m3(const Dilution& room, const Course& course);

/// A gas flow told in moles.
struct MolarFlow {
  double mol_s = 0;
  double t_K = 0;
  double p_Pa = 0;
};
/// As a volume at the room's temperature and pressure, m3/s.
/// @source ideal gas law, R of CODATA 2018 (exact since 2019; from memory)
[[nodiscard]] double volume_flow_m3_s(const MolarFlow& flow);

} // namespace oxherd::control
