#pragma once

#include <compare>

namespace oxherd {

/// One physical kind, held as its SI value. Kinds do not mix even where their dimensions agree: the worst mix-ups of
/// this trade (dry for wet fraction, sea-level for station pressure) have equal dimensions.
template <class Kind> class Quantity {
public:
  constexpr Quantity() = default;
  static constexpr Quantity from_si(double value) { return Quantity{value}; }
  [[nodiscard]] constexpr double si() const { return si_; }
  friend constexpr auto operator<=>(Quantity, Quantity) = default;
  friend constexpr Quantity operator+(Quantity a, Quantity b)
    requires Kind::additive
  {
    return Quantity{a.si_ + b.si_};
  }
  friend constexpr Quantity operator-(Quantity a, Quantity b)
    requires Kind::additive
  {
    return Quantity{a.si_ - b.si_};
  }
  friend constexpr Quantity operator*(Quantity a, double k)
    requires Kind::additive
  {
    return Quantity{a.si_ * k};
  }
  friend constexpr double operator/(Quantity a, Quantity b)
    requires Kind::additive
  {
    return a.si_ / b.si_;
  }

private:
  constexpr explicit Quantity(double value) : si_{value} {}
  double si_ = 0.0;
};

struct TemperatureKind {
  static constexpr bool additive = false;
}; // 20 °C + 20 °C must not compile
struct PressureKind {
  static constexpr bool additive = true;
};
struct SeaLevelPressureKind {
  static constexpr bool additive = false;
};
struct OxygenPartialPressureKind {
  static constexpr bool additive = true;
};
struct RelativeHumidityKind {
  static constexpr bool additive = false;
};
struct DryFractionKind {
  static constexpr bool additive = true;
};
struct WetFractionKind {
  static constexpr bool additive = true;
};
struct SignalKind {
  static constexpr bool additive = true;
};
struct ElevationKind {
  static constexpr bool additive = false;
};
struct GeopotentialAltitudeKind {
  static constexpr bool additive = false;
};
struct MolarConcentrationKind {
  static constexpr bool additive = true;
};
struct MassConcentrationKind {
  static constexpr bool additive = true;
};

/// Thermodynamic temperature, kelvin.
using Temperature = Quantity<TemperatureKind>;
/// Absolute pressure at the place of the measurement (the trade's "station pressure"), or a vapour pressure, pascal.
using Pressure = Quantity<PressureKind>;
/// Pressure reduced to sea level by the standard atmosphere (a weather report's QNH), pascal.
using SeaLevelPressure = Quantity<SeaLevelPressureKind>;
/// Partial pressure of oxygen, pascal.
using OxygenPartialPressure = Quantity<OxygenPartialPressureKind>;
/// Relative humidity over liquid water at every temperature, as a ratio (1 = saturated).
using RelativeHumidity = Quantity<RelativeHumidityKind>;
/// Mole fraction of oxygen in the dry part of the gas, as a ratio.
using DryFraction = Quantity<DryFractionKind>;
/// Mole fraction of oxygen in the gas as it is, water vapour included, as a ratio.
using WetFraction = Quantity<WetFractionKind>;
/// Output of a cell, volt.
using Signal = Quantity<SignalKind>;
/// Height above mean sea level as a map gives it (geometric), metre.
using Elevation = Quantity<ElevationKind>;
/// Geopotential altitude of the standard atmosphere, standard geopotential metre.
using GeopotentialAltitude = Quantity<GeopotentialAltitudeKind>;
/// Amount of oxygen per volume, mol/m3.
using MolarConcentration = Quantity<MolarConcentrationKind>;
/// Mass of oxygen per volume, kg/m3.
using MassConcentration = Quantity<MassConcentrationKind>;

constexpr Temperature kelvins(double v) { return Temperature::from_si(v); }
constexpr Temperature celsius(double v) { return Temperature::from_si(v + 273.15); }
constexpr Pressure pascals(double v) { return Pressure::from_si(v); }
constexpr Pressure kilopascals(double v) { return Pressure::from_si(v * 1e3); }
constexpr Signal millivolts(double v) { return Signal::from_si(v * 1e-3); }
constexpr RelativeHumidity percent_humidity(double v) { return RelativeHumidity::from_si(v / 100.0); }
constexpr Elevation metres(double v) { return Elevation::from_si(v); }

/// A value with its standard uncertainty in the SI unit of the value (kelvin for a temperature).
template <class Q> struct Uncertain {
  Q value{};
  double u_si = 0.0;
};

} // namespace oxherd
