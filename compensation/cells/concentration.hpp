#pragma once

#include "compensation/cells/law.hpp"

namespace oxherd::compensation::cells {

/// The signal follows the amount of oxygen per volume, pO2/(R T), times the temperature response g(t).
/// Passive galvanic cells behind a diffusion barrier.
/// @source  ideal gas law: c = x (p - e)/(R T)
/// @checked tests/compensation/oxygen_reading_test.cpp, E1, E2, E5, E6, E7, E10
extern const Law concentration;

} // namespace oxherd::compensation::cells
