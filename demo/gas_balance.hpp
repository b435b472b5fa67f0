#pragma once

#include "compensation/quantity.hpp"

namespace oxherd::demo {

/// The dry gas in a room, in moles. `rest` is nitrogen with argon. Water vapour is a fraction kept beside it.
struct DryGas {
  double oxygen_mol = 0.0;
  double carbon_dioxide_mol = 0.0;
  double rest_mol = 0.0;
  [[nodiscard]] double total_mol() const { return oxygen_mol + carbon_dioxide_mol + rest_mol; }
  [[nodiscard]] double oxygen() const { return oxygen_mol / total_mol(); } ///< dry mole fraction
  [[nodiscard]] double carbon_dioxide() const { return carbon_dioxide_mol / total_mol(); }
};

/// Pressure, temperature and water vapour of a gas.
struct Conditions {
  Pressure pressure;
  Temperature temperature;
  double vapour_fraction = 0.0; ///< moles of water in a mole of the gas as it is
};

/// Air or gas that enters a room; dry mole fractions and its water.
struct Supply {
  double oxygen = 0.0;
  double carbon_dioxide = 0.0;
  double vapour_fraction = 0.0;
};

/// What enters, leaves and reacts. Volumes are at the room's temperature and pressure.
struct Flows {
  double fresh_air_m3_per_h = 0.0;
  double nitrogen_m3_per_h = 0.0;       ///< dry, free of oxygen: boiled off liquid nitrogen
  double purge_m3_per_h = 0.0;          ///< dry, with `purge_oxygen`: a nitrogen generator
  double purge_oxygen = 0.005;          ///< 0.5 % is usual for a generator (common practice)
  double carbon_dioxide_m3_per_h = 0.0; ///< dosed
  double scrubber_m3_per_h = 0.0;       ///< passed through a scrubber and back
  double oxygen_used_mol_per_s = 0.0;
  double carbon_dioxide_made_mol_per_s = 0.0; ///< negative: taken up by plants
};

/// Dry gas that fills a room under these conditions, by the ideal gas law.
[[nodiscard]] DryGas fill(double volume_m3, const Conditions& conditions, const Supply& with);

/// One step of a well-mixed room open to the outdoors: what enters pushes out room gas; a rise of pressure or a fall of
/// temperature draws outdoor air in. Exact for flows that are constant over the step (dC/dt = (Q/V)(Cs - C) has an
/// exponential solution), so the step's length is no source of error there.
/// @param after  conditions at the end of the step
/// @checked tests/demo/gas_balance_test.cpp against the dilution equation
[[nodiscard]] DryGas step_gas(const DryGas& before, double volume_m3, const Conditions& after, const Flows& flows,
                              const Supply& outdoors, double dt_s);

/// Water vapour of the same room: dry supplies thin it, fresh air brings its own, and humidifier, coil and plants pull
/// it towards `held` with the time constant given.
struct VapourHold {
  double fraction = 0.0;
  double time_constant_s = 900.0;
};
[[nodiscard]] double step_vapour(double before, double volume_m3, const Flows& flows, const Supply& outdoors,
                                 const VapourHold& held, double dt_s);

} // namespace oxherd::demo
