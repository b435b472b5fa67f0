#pragma once

#include "compensation/cells/law.hpp"

namespace oxherd::compensation::cells {

/// The signal follows the partial pressure of oxygen, x (p - e), times the temperature response g(t).
/// @source  Dalton: pO2 = x (p - e)
/// @checked tests/compensation/oxygen_reading_test.cpp, E3 and E8
extern const Law partial_pressure;

} // namespace oxherd::compensation::cells
