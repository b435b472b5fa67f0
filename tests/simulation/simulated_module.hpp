#pragma once

#include "daemon/outputs/output_keeper.hpp"
#include "demo/devices.hpp"

namespace oxherd::simulation {

/// Writes an output to its simulated module in Modbus words and asks back what it holds, as a bus thread does.
/// @param now  real time of the module's watchdog
[[nodiscard]] daemon::WriteResult carry(demo::Devices& devices, const daemon::OutputKeeper::Write& write,
                                        demo::OutputModule::Monotonic now);

} // namespace oxherd::simulation
