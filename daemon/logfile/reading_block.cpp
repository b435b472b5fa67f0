#include "daemon/logfile/reading_block.hpp"

#include <span>

namespace oxherd::daemon::logfile {

Uncertain<Signal> ReadingBlock::signal_of(std::size_t i) const {
  return {Signal::from_si(value(Quantity::signal, i)), u(Quantity::signal, i)};
}

compensation::GasConditions ReadingBlock::gas_of(std::size_t i) const {
  compensation::GasConditions gas{
      .temperature = {kelvins(value(Quantity::temperature, i)), u(Quantity::temperature, i)},
      .humidity = {RelativeHumidity::from_si(value(Quantity::humidity, i)), u(Quantity::humidity, i)},
      .humidity_temperature = {},
      .pressure = {pascals(value(Quantity::pressure, i)), u(Quantity::pressure, i)}};
  if (own_probe_)
    gas.humidity_temperature =
        Uncertain<Temperature>{kelvins(value(Quantity::humidity_temperature, i)), u(Quantity::humidity_temperature, i)};
  return gas;
}

void ReadingBlock::read(const compensation::PreparedCell& cell, const compensation::SignalErrors& errors,
                        std::size_t count) {
  const auto from = [&](Quantity quantity) {
    const Input& in = inputs_[static_cast<std::size_t>(quantity)];
    return compensation::UncertainColumn{std::span{in.value}.first(count), std::span{in.u}.first(count)};
  };
  const auto to = [&](Column& column) { return std::span{column}.first(count); };
  compensation::read_batch(
      cell,
      {.signal_V = from(Quantity::signal),
       .temperature_K = from(Quantity::temperature),
       .humidity = from(Quantity::humidity),
       .probe_K = own_probe_ ? from(Quantity::humidity_temperature) : compensation::UncertainColumn{},
       .pressure_Pa = from(Quantity::pressure)},
      errors,
      {.dry = to(dry),
       .u_dry = to(u_dry),
       .wet = to(wet),
       .u_wet = to(u_wet),
       .po2_Pa = to(po2_Pa),
       .u_po2_Pa = to(u_po2_Pa),
       .uncorrected = to(uncorrected),
       .vapour_Pa = to(vapour_Pa),
       .valid = std::span{valid}.first(count)});
}

} // namespace oxherd::daemon::logfile
