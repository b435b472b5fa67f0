#include "daemon/calibration/wording.hpp"

#include <cstdlib>

#include <fmt/core.h>

#include "daemon/time_text.hpp"

namespace oxherd::daemon {

std::string day_text(WallTime t) { return rfc3339(t).substr(0, 10); }

std::string_view words_for(GasKind gas) {
  switch (gas) {
  case GasKind::fresh_air: return "fresh air";
  case GasKind::nitrogen: return "nitrogen";
  case GasKind::span_gas: return "span gas";
  }
  std::abort(); // not one of the kinds: memory is corrupt, stop loudly
}

std::string percent_text(double ratio) {
  std::string text = fmt::format("{:.5f}", ratio * 100.0);
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text;
}

std::string name_of_gas(const ReferenceGas& gas) {
  if (gas.cylinder.empty()) return std::string{words_for(gas.kind)};
  return fmt::format("{} (cylinder {})", words_for(gas.kind), gas.cylinder);
}

std::string not_recorded_text(const CalibrationRecord& record, std::string_view why) {
  const auto cell = record.room + "/" + record.sensor;
  switch (record.act) {
  case CalibrationAct::adjustment:
    return fmt::format(
        "NOT RECORDED: {}. The former calibration of {} stays in force; make the store write again, then "
        "record it again",
        why, cell);
  case CalibrationAct::check:
  case CalibrationAct::bump_test:
    return fmt::format("NOT RECORDED: {}. Nothing on record says that {} was tested; make the store write again, then "
                       "record it again",
                       why, cell);
  case CalibrationAct::withdrawal:
    return fmt::format("NOT RECORDED: {}. Record {} stands as before; make the store write again, then withdraw it",
                       why, record.supersedes.value_or(0));
  }
  std::abort(); // not one of the acts: memory is corrupt, stop loudly
}

} // namespace oxherd::daemon
