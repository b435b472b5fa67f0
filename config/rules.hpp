#pragma once

#include "config/table_reader.hpp"
#include "drivers/register_map.hpp"

namespace oxherd::config {

// Spans that several tables share. A value outside is a slip (a wrong unit, a sea-level report), not a taste.

inline constexpr QuantityRule poll_period{compensation::Dimension::duration, 0.1, 3600.0, "100 ms to 1 h"};
inline constexpr QuantityRule reply_timeout{compensation::Dimension::duration, 0.01, 60.0, "10 ms to 60 s"};
inline constexpr QuantityRule gas_temperature{compensation::Dimension::temperature, 233.15, 358.15, "-40 °C to 85 °C"};
inline constexpr QuantityRule gas_humidity{compensation::Dimension::humidity, 0.0, 1.0, "0 % to 100 %"};
/// Weather at sea level never passes 108.5 kPa; 50 kPa is 5.5 km up.
inline constexpr QuantityRule station_air_pressure{compensation::Dimension::pressure, 50e3, 110e3, "50 kPa to 110 kPa"};
inline constexpr QuantityRule reported_air_pressure{compensation::Dimension::pressure, 87e3, 108.5e3,
                                                    "87 kPa to 108.5 kPa"};
inline constexpr QuantityRule site_elevation{compensation::Dimension::length, -500.0, 5500.0, "-500 m to 5500 m"};
inline constexpr QuantityRule cell_signal{compensation::Dimension::voltage, -1.0, 5.0, "-1 V to 5 V"};
inline constexpr QuantityRule gas_fraction{compensation::Dimension::ratio, 0.0, 1.0, "0 % to 100 %"};

inline constexpr QuantityRule signal_uncertainty{compensation::Dimension::voltage, 0.0, 0.1, "0 mV to 100 mV"};
inline constexpr QuantityRule temperature_uncertainty{compensation::Dimension::temperature_difference, 0.0, 20.0,
                                                      "0 K to 20 K"};
inline constexpr QuantityRule humidity_uncertainty{compensation::Dimension::humidity, 0.0, 0.5, "0 % to 50 %"};
inline constexpr QuantityRule pressure_uncertainty{compensation::Dimension::pressure, 0.0, 10e3, "0 Pa to 10 kPa"};
inline constexpr QuantityRule fraction_uncertainty{compensation::Dimension::ratio, 0.0, 0.1, "0 % to 10 %"};

inline constexpr QuantityRule alarm_delay{compensation::Dimension::duration, 0.0, 3600.0, "0 s to 1 h"};

inline constexpr IntegerRule register_address{0, 65535};
inline constexpr IntegerRule retry_count{0, 10};
inline constexpr IntegerRule gap_length{0, 124};
inline constexpr IntegerRule request_length{1, 125}; ///< Modbus Application Protocol V1.1b3, 6.3

/// How often an output is to be proved.
inline constexpr QuantityRule proof_interval_span{compensation::Dimension::duration, 86400.0, 1096.0 * 86400.0,
                                                  "1 d to 1096 d (three years)"};

/// A duration in whole days, or the word "never", which empties `out`; absent, `out` stays as it is.
void read_days(TableReader& in, std::string_view key, const QuantityRule& span, std::optional<std::chrono::days>& out);

/// `gap_max` and `length_max` of a table, where given.
void read_limits(TableReader& in, drivers::ReadLimits& limits);

} // namespace oxherd::config
