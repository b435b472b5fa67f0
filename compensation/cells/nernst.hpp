#pragma once

#include "compensation/cells/law.hpp"

namespace oxherd::compensation::cells {

/// The voltage of a heated zirconia cell: E = E0 + k (R T/4F) ln(pO2 of the reference air / pO2 of the sample).
/// One calibration point gives the offset E0 (the asymmetry voltage) with k = 1; `Calibration::zero` is not used. Two
/// points give the slope factor k and E0. The temperature of the gas plays no part: the gas is heated to the furnace.
///
/// The uncorrected fraction is what the signal means in the gas of the calibration. The pressure factor is
/// (pc/p) (pr/prc) and the humidity factor (1 - xv_c)/(1 - xv) (1 - xv_r)/(1 - xv_rc), where r is the reference air now
/// and rc that at the calibration; the temperature factor is 1.
/// @source  Nernst equation with four electrons per molecule of oxygen
/// @checked tests/compensation/cells/nernst_test.cpp
extern const Law nernst;

} // namespace oxherd::compensation::cells
