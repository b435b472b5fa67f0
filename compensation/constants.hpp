#pragma once

namespace oxherd::compensation {

/// Molar gas constant, J/(mol K), exact. @source BIPM, The International System of Units, 9th edition (2019)
inline constexpr double gas_constant = 8.31446261815324;
/// Faraday constant, C/mol, exact: the product of the elementary charge and the Avogadro constant. @source the same
inline constexpr double faraday_constant = 96485.33212331001;
/// Molar mass of O2, kg/mol. @source IUPAC standard atomic weights, abridged: 2 x 15.999 g/mol
inline constexpr double oxygen_molar_mass = 31.998e-3;
/// The standard atmosphere, Pa, exact. @source ISO 80000-4
inline constexpr double standard_atmosphere = 101325.0;
/// 0 °C in kelvin, exact.
inline constexpr double ice_point = 273.15;

/// Oxygen in dry fresh air, a ratio of amounts.
inline constexpr double fresh_air_oxygen = 0.20946;

} // namespace oxherd::compensation
