#include "demo/instruments.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "compensation/oxygen_reading.hpp"

namespace oxherd::demo {
namespace {

constexpr double month_s = 30.0 * 86400.0;
constexpr double probe_temperature_lag_s = 60.0;
constexpr double probe_humidity_lag_s = 20.0;
constexpr double carbon_dioxide_lag_s = 20.0;

/// Moves a first-order lag towards its input, exactly for an input that is constant over the step.
double lag(double state, double input, double time_constant_s, double dt_s) {
  return input + (state - input) * std::exp(-dt_s / time_constant_s);
}

/// Rounds to the nearest integer that the register can hold; a real probe clips the same way.
std::uint16_t to_int16(double value) {
  const auto whole = static_cast<std::int16_t>(std::clamp(std::round(value), -32767.0, 32767.0));
  return static_cast<std::uint16_t>(whole);
}
std::uint16_t to_uint16(double value) {
  return static_cast<std::uint16_t>(std::clamp(std::round(value), 0.0, 65534.0));
}

std::vector<std::uint16_t> cell_registers(double signal_mV, std::uint16_t status) {
  const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(signal_mV));
  return {static_cast<std::uint16_t>(bits >> 16), static_cast<std::uint16_t>(bits & 0xFFFFu), status};
}

} // namespace

SimulatedCell::SimulatedCell(const CellFacts& facts, const TrueAir& air, Noise noise)
    : facts_{facts}, cell_{cell_of(facts)}, calibration_{calibration_of(facts)}, noise_{noise} {
  lagged_V_ = law_V(air);
}

double SimulatedCell::law_V(const TrueAir& air) const {
  compensation::GasConditions gas;
  gas.temperature.value = air.temperature;
  gas.humidity.value = air.humidity;
  gas.pressure.value = air.pressure;
  const auto signal = compensation::expected_signal(cell_, calibration_, air.oxygen, gas);
  // The site's weather and rooms stay far inside the equations: outside them the simulator itself is wrong.
  if (!signal) throw std::logic_error("simulated air is outside the cell's law: " + signal.error().what);
  return signal->si() - calibration_.zero.value.si();
}

void SimulatedCell::advance(const TrueAir& air, double dt_s) {
  lagged_V_ = lag(lagged_V_, law_V(air), cell_t90_s / std::numbers::ln10, dt_s);
  age_s_ += dt_s;
  scatter_V_ = noise_.normal(cell_noise_mV * 1e-3);
}

Signal SimulatedCell::settled() const {
  const double sensitivity = 1.0 - cell_ageing_per_month * age_s_ / month_s;
  return Signal::from_si(calibration_.zero.value.si() + lagged_V_ * sensitivity);
}

Signal SimulatedCell::signal() const { return Signal::from_si(settled().si() + scatter_V_); }

double SimulatedCell::uncorrected() const {
  const double zero = calibration_.zero.value.si();
  return outdoor_oxygen * (settled().si() - zero) / (calibration_.span.signal.value.si() - zero);
}

SimulatedProbe::SimulatedProbe(bool has_barometer, const TrueAir& air, Noise noise)
    : has_barometer_{has_barometer}, noise_{noise}, t_K_{air.temperature.si()}, humidity_{air.humidity.si()},
      pressure_Pa_{air.pressure.si()}, t_error_K_{noise_.spread(0.5 * probe_u_temperature_K)},
      humidity_error_{noise_.spread(0.5 * probe_u_humidity)},
      pressure_error_Pa_{noise_.spread(0.5 * probe_u_pressure_Pa)} {}

void SimulatedProbe::advance(const TrueAir& air, double dt_s) {
  t_K_ = lag(t_K_, air.temperature.si(), probe_temperature_lag_s, dt_s);
  humidity_ = lag(humidity_, air.humidity.si(), probe_humidity_lag_s, dt_s);
  pressure_Pa_ = air.pressure.si();
  t_scatter_K_ = noise_.normal(0.02);
  humidity_scatter_ = noise_.normal(0.001);
  pressure_scatter_Pa_ = noise_.normal(3.0);
}

Temperature SimulatedProbe::temperature() const { return kelvins(t_K_ + t_error_K_ + t_scatter_K_); }
RelativeHumidity SimulatedProbe::humidity() const {
  return RelativeHumidity::from_si(std::clamp(humidity_ + humidity_error_ + humidity_scatter_, 0.0, 1.0));
}
std::optional<Pressure> SimulatedProbe::pressure() const {
  if (!has_barometer_) return std::nullopt;
  return pascals(pressure_Pa_ + pressure_error_Pa_ + pressure_scatter_Pa_);
}

SimulatedCarbonDioxide::SimulatedCarbonDioxide(const TrueAir& air, Noise noise)
    : noise_{noise}, lagged_ppm_{air.carbon_dioxide.si() * (1.0 - air.vapour_fraction) * 1e6} {
  gain_ = 1.0 + noise_.spread(0.01);
}

void SimulatedCarbonDioxide::advance(const TrueAir& air, double dt_s) {
  const double wet_ppm = air.carbon_dioxide.si() * (1.0 - air.vapour_fraction) * 1e6;
  lagged_ppm_ = lag(lagged_ppm_, wet_ppm, carbon_dioxide_lag_s, dt_s);
  scatter_ppm_ = noise_.normal(3.0);
}

double SimulatedCarbonDioxide::ppm() const { return std::max(0.0, lagged_ppm_ * gain_ + scatter_ppm_); }

void SimulatedOverPressure::advance(double over_pressure_Pa) {
  shown_Pa_ = over_pressure_Pa + error_Pa_ + noise_.normal(0.5);
}

std::vector<std::uint16_t> registers_of(const SimulatedCell& cell, Fault fault) {
  const double signal_mV = cell.signal().si() * 1e3;
  switch (fault) {
  case Fault::disconnected: return cell_registers(2048.0, 1); // an open input floats to its rail
  case Fault::dead: return cell_registers(0.0, 0);
  case Fault::worn: return cell_registers(signal_mV, 2);
  case Fault::none:
  case Fault::silent:
  case Fault::refusing:
  case Fault::stuck: break; // the words are as ever; what becomes of them is decided where they are served
  }
  return cell_registers(signal_mV, 0);
}

std::vector<std::uint16_t> registers_of(const SimulatedProbe& probe) {
  const auto pressure = probe.pressure();
  return {to_int16((probe.temperature().si() - 273.15) * 10.0), to_uint16(probe.humidity().si() * 1000.0),
          pressure ? to_uint16(pressure->si() / 10.0) : std::uint16_t{65535}};
}

std::vector<std::uint16_t> registers_of(const SimulatedCarbonDioxide& probe) { return {to_uint16(probe.ppm())}; }

std::vector<std::uint16_t> registers_of(const SimulatedOverPressure& probe) {
  return {to_int16(probe.over_pressure_Pa())};
}

} // namespace oxherd::demo
