#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "compensation/quantity.hpp"
#include "demo/noise.hpp"
#include "demo/site_facts.hpp"

namespace oxherd::demo {

/// The air at an instrument, as it truly is.
struct TrueAir {
  DryFraction oxygen;
  DryFraction carbon_dioxide;
  Temperature temperature;
  RelativeHumidity humidity;
  Pressure pressure;
  double vapour_fraction = 0.0;
};

/// What is wrong with a device.
enum class Fault {
  none,
  disconnected, ///< cell: the plug is out, status bit 0 is set and the open input floats; contact: the circuit is open
  worn,         ///< cell only: status bit 1, near its end; the signal stands
  dead,         ///< cell only: exactly 0 mV, no noise, no status bit
  silent,       ///< no reply at all
  refusing,     ///< answers every request with exception 04, server device failure
  stuck         ///< replies with what it had when the fault began; the output module confirms each write and takes none
};

/// Time for 90 % of a step. 15 s is usual for a galvanic cell near 25 °C (common practice).
inline constexpr double cell_t90_s = 15.0;
/// Relative loss of sensitivity in 30 days; 0.5 % to 2 % is usual for a galvanic cell (common practice).
inline constexpr double cell_ageing_per_month = 0.008;
/// Scatter of the cell's signal.
inline constexpr double cell_noise_mV = 0.004;

/// An oxygen cell: the forward law of the compensation, a first-order lag, ageing and noise.
class SimulatedCell {
public:
  /// @param air  the cell starts settled in it
  SimulatedCell(const CellFacts& facts, const TrueAir& air, Noise noise);
  void advance(const TrueAir& air, double dt_s);
  [[nodiscard]] Signal signal() const;  ///< at the terminals, with noise
  [[nodiscard]] Signal settled() const; ///< without noise
  /// Fraction that the signal alone would give, the calibration's pressure, temperature and humidity taken as today's.
  [[nodiscard]] double uncorrected() const;

private:
  [[nodiscard]] double law_V(const TrueAir& air) const;

  CellFacts facts_;
  compensation::Cell cell_;
  compensation::Calibration calibration_;
  Noise noise_;
  double lagged_V_ = 0.0; ///< above the zero signal, before ageing
  double age_s_ = 0.0;
  double scatter_V_ = 0.0;
};

/// Fixed errors of a probe stay within half of these (the standard uncertainties that its register map states).
inline constexpr double probe_u_temperature_K = 0.3;
inline constexpr double probe_u_humidity = 0.03;
inline constexpr double probe_u_pressure_Pa = 50.0;

/// A probe for temperature, humidity and (some) pressure, with lag, a fixed error and noise.
class SimulatedProbe {
public:
  SimulatedProbe(bool has_barometer, const TrueAir& air, Noise noise);
  void advance(const TrueAir& air, double dt_s);
  [[nodiscard]] Temperature temperature() const;
  [[nodiscard]] RelativeHumidity humidity() const;
  [[nodiscard]] std::optional<Pressure> pressure() const;

private:
  bool has_barometer_;
  Noise noise_;
  double t_K_, humidity_, pressure_Pa_;                   // lagged
  double t_error_K_, humidity_error_, pressure_error_Pa_; // fixed for the life of the probe
  double t_scatter_K_ = 0.0, humidity_scatter_ = 0.0, pressure_scatter_Pa_ = 0.0;
};

/// A carbon dioxide probe that corrects for temperature and pressure itself and reports the gas as it is (wet).
class SimulatedCarbonDioxide {
public:
  SimulatedCarbonDioxide(const TrueAir& air, Noise noise);
  void advance(const TrueAir& air, double dt_s);
  [[nodiscard]] double ppm() const;

private:
  Noise noise_;
  double lagged_ppm_ = 0.0;
  double gain_ = 1.0;
  double scatter_ppm_ = 0.0;
};

/// A probe for the room's pressure against its surroundings, quick beside the room, with a fixed error and noise.
class SimulatedOverPressure {
public:
  explicit SimulatedOverPressure(Noise noise) : noise_{noise}, error_Pa_{noise_.spread(1.0)} {}
  void advance(double over_pressure_Pa);
  [[nodiscard]] double over_pressure_Pa() const { return shown_Pa_; }

private:
  Noise noise_;
  double error_Pa_; // fixed for the life of the probe
  double shown_Pa_ = 0.0;
};

/// The input registers as the device would serve them.
[[nodiscard]] std::vector<std::uint16_t> registers_of(const SimulatedCell& cell, Fault fault);
[[nodiscard]] std::vector<std::uint16_t> registers_of(const SimulatedProbe& probe);
[[nodiscard]] std::vector<std::uint16_t> registers_of(const SimulatedCarbonDioxide& probe);
[[nodiscard]] std::vector<std::uint16_t> registers_of(const SimulatedOverPressure& probe);

} // namespace oxherd::demo
