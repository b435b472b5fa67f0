#include <fmt/core.h>

#include "daemon/cli/explain_stored.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

/// The recorded columns by name; the first is the one people look for.
struct OutputColumn {
  std::string_view name, key;
  std::optional<double> OxygenOutputs::*value;
};
constexpr OutputColumn output_columns[] = {{"oxygen, dry", "dry_fraction", &OxygenOutputs::oxygen},
                                           {"u of it", "u_dry_fraction", &OxygenOutputs::u_oxygen},
                                           {"oxygen, wet", "wet_fraction", &OxygenOutputs::oxygen_wet},
                                           {"u of it", "u_wet_fraction", &OxygenOutputs::u_oxygen_wet},
                                           {"pO2 in Pa", "po2_pa", &OxygenOutputs::po2_Pa},
                                           {"u of it", "u_po2_pa", &OxygenOutputs::u_po2_Pa}};

std::string every_digit(const std::optional<double>& value) { return value ? json_number(*value) : "-"; }

std::string quality_text(const OxygenOutputs& outputs) {
  return fmt::format("{} ({})", alarms::name_of(alarms::quality_of(outputs.status)), alarms::name_of(outputs.status));
}

std::string percent_or_none(const OxygenOutputs& outputs) {
  if (!outputs.oxygen) return "no oxygen value";
  return fmt::format("{:.3f} % ± {:.3f} % (k = 2)", *outputs.oxygen * 100.0,
                     coverage_factor * outputs.u_oxygen.value_or(0.0) * 100.0);
}

std::string who_calibrated(const ActiveCalibration& active) {
  return active.number == 0 ? "from the configuration" : fmt::format("record {}", active.number);
}

std::string difference_text(const OxygenOutputs& recorded, const OxygenOutputs& anew) {
  Table table{4};
  table.add({"", "recorded", "formed anew"});
  const auto add = [&](std::string_view name, const std::string& before, const std::string& now) {
    if (before != now) table.add({std::string{name}, before, now});
  };
  for (const auto& column : output_columns)
    add(column.name, every_digit(recorded.*column.value), every_digit(anew.*column.value));
  add("quality", quality_text(recorded), quality_text(anew));
  add("reasons", printable(recorded.reasons), printable(anew.reasons));
  return "  !! THE VALUES DIFFER: another version of oxherd formed this reading, or its record was changed.\n" +
         table.text();
}

std::string outputs_object(const OxygenOutputs& outputs) {
  JsonObject out;
  out.text("quality", alarms::name_of(alarms::quality_of(outputs.status)))
      .text("status", alarms::name_of(outputs.status));
  for (const auto& column : output_columns) out.number(column.key, outputs.*column.value);
  return out.text("reasons", outputs.reasons).str();
}

std::string calibration_object(const ReadingBasis& basis) {
  if (!basis.calibration) return "null";
  const auto& active = *basis.calibration;
  return JsonObject{}
      .text("from", active.number == 0 ? "configuration" : "record")
      .json("number", active.number == 0 ? "null" : fmt::format("{}", active.number))
      .json("performed", active.at ? json_string(rfc3339(*active.at)) : "null")
      .str();
}

std::string derivation_object(const RecordedFacts& stored) {
  const auto& later = stored.recorded.later;
  if (!later) return "null";
  return JsonObject{}
      .integer("number", later->by.id)
      .text("at", rfc3339(later->by.at))
      .text("author", later->by.author)
      .text("reason", later->by.reason)
      .json("recorded_first", outputs_object(stored.recorded.outputs))
      .json("first_formed_anew", outputs_object(stored.first_anew))
      .str();
}

} // namespace

std::string stored_heading(const Explanation& explained) {
  const auto& stored = *explained.stored;
  const auto& recorded = stored.recorded;
  std::string out = fmt::format("{}/{} at {}: {}\nquality {}\n", printable(recorded.room), printable(recorded.sensor),
                                rfc3339_local(recorded.at), percent_or_none(recorded.outputs_now()),
                                quality_text(recorded.outputs_now()));
  for (const auto& reason : stored.reasons) out += fmt::format("  - {}\n", printable(reason.text));
  if (const auto& later = recorded.later) {
    out += fmt::format("\nRE-DERIVED: derivation {} of {} by {}: {}\n", later->by.id, rfc3339_local(later->by.at),
                       printable(later->by.author), printable(later->by.reason));
    Table table{2};
    table.add({"recorded first", percent_or_none(recorded.outputs), quality_text(recorded.outputs)});
    table.add({"stands now", percent_or_none(later->outputs), quality_text(later->outputs)});
    out += table.text();
  }
  return out + '\n';
}

std::string stored_calibration(const Explanation& explained) {
  if (!explained.cell) return "";
  const auto& recorded = explained.stored->recorded;
  const auto& active = recorded.basis_now().calibration;
  Table table{2};
  if (!active) {
    table.add({"calibration", "none: the cell was not calibrated"});
  } else {
    table.add({"calibration", who_calibrated(*active)});
    table.add({"performed", active->at ? fmt::format("{}, {} before the reading", rfc3339_local(*active->at),
                                                     duration_text(explained.calibration_age_s.value_or(0.0)))
                                       : std::string{"time not given; no drift is counted"}});
  }
  table.add({"cell", explained.serial.empty() ? "serial number not given" : "serial " + printable(explained.serial)});
  const auto& first = recorded.basis->calibration;
  if (recorded.later && first) table.add({"used at first", who_calibrated(*first)});
  return "Calibration in force\n" + table.text() + '\n';
}

std::string stored_proof(const RecordedFacts& stored) {
  std::string out = "\n6. Proof: formed anew from the recorded inputs\n";
  const auto& recorded = stored.recorded;
  const bool now_agrees = stored.anew == recorded.outputs_now();
  if (recorded.later) {
    out += now_agrees ? fmt::format("  as derivation {} computed it: every digit agrees\n", recorded.later->by.id)
                      : difference_text(recorded.outputs_now(), stored.anew);
    out += stored.first_anew == recorded.outputs
               ? "  what was recorded first, with its own calibration: every digit agrees\n"
               : "  what was recorded first, with its own calibration:\n" +
                     difference_text(recorded.outputs, stored.first_anew);
    return out;
  }
  return out + (now_agrees ? "  as the daemon computed it: every digit agrees\n"
                           : difference_text(recorded.outputs, stored.anew));
}

std::string stored_json(const Explanation& explained) {
  const auto& stored = *explained.stored;
  const auto& recorded = stored.recorded;
  std::vector<std::string> reasons;
  for (const auto& reason : stored.reasons) reasons.push_back(json_string(reason.text));
  return JsonObject{}
      .text("at", rfc3339(recorded.at))
      .text("room", recorded.room)
      .text("sensor", recorded.sensor)
      .text("serial", explained.serial)
      .json("reasons", json_array(reasons))
      .json("calibration", calibration_object(recorded.basis_now()))
      .flag("every_digit_agrees", stored.every_digit_agrees())
      .json("recorded", outputs_object(recorded.outputs_now()))
      .json("formed_anew", outputs_object(stored.anew))
      .json("derivation", derivation_object(stored))
      .str();
}

} // namespace oxherd::daemon::cli
