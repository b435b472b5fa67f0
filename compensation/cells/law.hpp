#pragma once

#include <array>
#include <string_view>

#include "compensation/cell.hpp"
#include "compensation/oxygen_reading.hpp"
#include "compensation/surroundings.hpp"

namespace oxherd::compensation::cells {

/// What drives a cell's signal, which is zero + sensitivity * stimulus, with the slopes by all that it depends on.
template <class Real> struct StimulusOf {
  Real value{};
  Real d_fraction{}; ///< by the dry oxygen fraction
  Real d_t{};        ///< by the temperature of the gas at the cell, the temperature response included
  Real d_p{};        ///< by the total pressure at constant vapour pressure
  Real d_e{};        ///< by the vapour pressure
  Real d_furnace{};
  double d_reference = 0.0; ///< by the oxygen partial pressure of the reference air
};
using Stimulus = StimulusOf<double>;

/// A stimulus that is the dry fraction times a gain, with the slopes of the gain.
template <class Real> struct Gain {
  Real value{};
  Real d_t{};
  Real d_p{};
  Real d_e{};
};

/// The stimulus of a law that is linear in the fraction.
template <class Real> [[nodiscard]] constexpr StimulusOf<Real> linear_stimulus(Real fraction, const Gain<Real>& gain) {
  return {.value = fraction * gain.value,
          .d_fraction = gain.value,
          .d_t = fraction * gain.d_t,
          .d_p = fraction * gain.d_p,
          .d_e = fraction * gain.d_e,
          .d_furnace = Real{}};
}

/// Its inverse.
template <class Real> [[nodiscard]] constexpr Real linear_fraction(Real stimulus, const Gain<Real>& gain) {
  return stimulus / gain.value;
}

/// Rows that are computed together: few enough to stay in the nearest cache, and a constant, so that the compiler can
/// take several of them in one step.
inline constexpr std::size_t block_rows = 256;
using BlockColumn = std::array<double, block_rows>;

/// The gases of a block of readings at a cell, in SI.
struct GasBlock {
  BlockColumn t_K{};
  BlockColumn p_Pa{};
  BlockColumn e_Pa{};
  BlockColumn response{};
};

/// One cell model: its names and its equations. All functions are pure and expect checked surroundings.
struct Law {
  CellModel model = CellModel::concentration;
  std::string_view name;             ///< as written in settings and commands
  std::string_view help;             ///< one line for `--help`
  std::string_view sensitivity_unit; ///< of signal per stimulus, empty for a ratio
  /// A calibration of one point takes `zero` for the signal without stimulus. False: it takes the nominal sensitivity 1
  /// and does not use `zero`.
  bool uses_zero = true;
  Stimulus (*stimulus)(double fraction, const Surroundings& at) = nullptr;
  /// The dry fraction that gives this stimulus: the exact inverse.
  double (*fraction)(double stimulus, const Surroundings& at) = nullptr;
  /// The same for lanes of several gases at once, by the same equations: the gain of a law that is linear in the
  /// fraction, otherwise (null) both.
  Gain<Lanes> (*gain_of_lanes)(const SurroundingsOf<Lanes>& at) = nullptr;
  StimulusOf<Lanes> (*stimulus_of_lanes)(Lanes fraction, const SurroundingsOf<Lanes>& at) = nullptr;
  Lanes (*fraction_of_lanes)(Lanes stimulus, const SurroundingsOf<Lanes>& at) = nullptr;
  /// `fraction` for a block, in place: stimuli become dry fractions. Null: `fraction` is called row by row.
  void (*fractions)(BlockColumn& values, const GasBlock& at) = nullptr;
  /// By how much the fraction found from a signal changes when the surroundings do, influence by influence.
  Factors (*factors)(const Surroundings& at, const Surroundings& calibrated) = nullptr;
};

/// Dry part of a gas, 1 - e/p.
template <class Real> [[nodiscard]] constexpr Real dry_part(const SurroundingsOf<Real>& at) {
  return 1.0 - at.vapour.e_Pa / at.p_Pa;
}

} // namespace oxherd::compensation::cells
