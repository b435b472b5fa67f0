#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "compensation/batch.hpp"
#include "compensation/prepared_cell.hpp"
#include "daemon/logfile/recipe.hpp"

namespace oxherd::daemon::logfile {

/// The inputs of rows that are read together, a column for each quantity, and the readings found from them.
class ReadingBlock {
public:
  static constexpr std::size_t rows = 256; ///< few enough to stay in the nearest caches
  using Column = std::array<double, rows>;
  /// One input of every row, in SI, with its standard uncertainty.
  struct Input {
    Column value{};
    Column u{};
  };

  /// @param own_probe  the humidity probe has a thermometer of its own
  explicit ReadingBlock(bool own_probe) : own_probe_{own_probe} {}
  [[nodiscard]] Input& input(Quantity quantity) { return inputs_[static_cast<std::size_t>(quantity)]; }
  /// The inputs of one row, as a single reading takes them.
  [[nodiscard]] Uncertain<Signal> signal_of(std::size_t i) const;
  [[nodiscard]] compensation::GasConditions gas_of(std::size_t i) const;
  /// Forms the readings of the first `count` rows.
  void read(const compensation::PreparedCell& cell, const compensation::SignalErrors& errors, std::size_t count);

  /// The readings, in SI; names as in OxygenReading.
  Column dry{}, u_dry{}, wet{}, u_wet{}, po2_Pa{}, u_po2_Pa{}, uncorrected{}, vapour_Pa{};
  std::array<std::uint8_t, rows> valid{};

private:
  [[nodiscard]] double value(Quantity quantity, std::size_t i) const {
    return inputs_[static_cast<std::size_t>(quantity)].value[i];
  }
  [[nodiscard]] double u(Quantity quantity, std::size_t i) const {
    return inputs_[static_cast<std::size_t>(quantity)].u[i];
  }

  bool own_probe_;
  std::array<Input, quantity_count> inputs_{};
};

} // namespace oxherd::daemon::logfile
