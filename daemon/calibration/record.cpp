#include "daemon/calibration/record.hpp"

#include <cstdlib>

namespace oxherd::daemon {

std::string_view name_of(CalibrationAct act) {
  switch (act) {
  case CalibrationAct::adjustment: return "adjustment";
  case CalibrationAct::check: return "check";
  case CalibrationAct::bump_test: return "bump-test";
  case CalibrationAct::withdrawal: return "withdrawal";
  }
  std::abort(); // not one of the acts: memory is corrupt, stop loudly
}

std::string_view name_of(GasKind kind) {
  switch (kind) {
  case GasKind::fresh_air: return "fresh-air";
  case GasKind::nitrogen: return "nitrogen";
  case GasKind::span_gas: return "span-gas";
  }
  std::abort(); // not one of the kinds: memory is corrupt, stop loudly
}

} // namespace oxherd::daemon
