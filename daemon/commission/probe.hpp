#pragma once

#include <string>
#include <vector>

#include "daemon/commission/survey.hpp"

namespace oxherd::daemon::commission {

/// Runs of registers of one table that can be read in one request each.
struct Probed {
  std::vector<drivers::Span> spans{};
  std::vector<std::string> notes{};
  bool cut_short = false;
};

/// Which registers (or bits) of a unit can be read: asks for blocks and halves those that are refused, then joins what
/// can be read together. A table that the device does not know, or that it is silent about, costs one or two requests.
[[nodiscard]] Probed probe_table(drivers::RegisterBus& bus, int unit, drivers::Table table,
                                 const std::vector<NumberRange>& ranges, std::chrono::milliseconds timeout,
                                 const std::function<bool(double part)>& go_on);

} // namespace oxherd::daemon::commission
