#include <cmath>

#include <fmt/core.h>

#include "compensation/constants.hpp"
#include "daemon/calibration/in_force.hpp"
#include "daemon/calibration/judgement_rules.hpp"
#include "daemon/calibration/wording.hpp"

namespace oxherd::daemon {
namespace {

constexpr double mV = 1e-3;

bool is_nernst(const CalibrationRecord& record) { return record.model == "nernst"; }

/// The signal that a linear cell would give in air, from its two points and the oxygen between them. Weather is left
/// out: a data sheet's span is wider.
double signal_in_air_V(const compensation::Calibration& calibration) {
  constexpr double air = compensation::fresh_air_oxygen;
  const double low_V = calibration.low ? calibration.low->signal.value.si() : calibration.zero.value.si();
  const double low_oxygen = calibration.low ? calibration.low->oxygen.value.si() : 0.0;
  const double slope = (calibration.span.signal.value.si() - low_V) / (calibration.span.oxygen.value.si() - low_oxygen);
  return low_V + slope * (air - low_oxygen);
}

/// What a cell whose signal is proportional to oxygen must show. A Nernst cell follows a logarithm.
void judge_signals(const compensation::Calibration& calibration, const Circumstances& around,
                   const JudgementRules& rules, Judgement& judgement) {
  const Uncertain<Signal> low = calibration.low ? calibration.low->signal : calibration.zero;
  const double span_V = calibration.span.signal.value.si();
  const double low_V = low.value.si();
  const double net_V = span_V - low_V;
  const double u_V = std::hypot(calibration.span.signal.u_si, low.u_si);
  if (!(net_V > 0.0)) {
    refuse(judgement, fmt::format("the span signal {:.3f} mV is not above the low signal {:.3f} mV: check polarity, "
                                  "wiring and which gas was on",
                                  span_V / mV, low_V / mV));
    return;
  }
  if (net_V < rules.span_over_u_min * u_V)
    refuse(judgement,
           fmt::format("span and low signal differ by {:.3f} mV with an uncertainty of {:.3f} mV (at least {:.0f} "
                       "times that): the sensitivity would be a guess, replace the cell or its input",
                       net_V / mV, u_V / mV, rules.span_over_u_min));
  const bool low_is_zero = !calibration.low || calibration.low->oxygen.value.si() <= rules.nitrogen_oxygen_max;
  const double share = std::abs(low_V) / span_V;
  if (low_is_zero && share > rules.zero_refused)
    refuse_without_reason(judgement,
                          fmt::format("the zero of {:.3f} mV is {:.0f} % of the span signal (at most {:.0f} %): "
                                      "look for a leak in the nitrogen line, else replace the cell",
                                      low_V / mV, share * 100.0, rules.zero_refused * 100.0));
  else if (low_is_zero && share > rules.zero_warned)
    judgement.warnings.push_back(fmt::format("the zero of {:.3f} mV is {:.0f} % of the span signal (up to {:.0f} % is "
                                             "ordinary): look for a leak in the nitrogen line",
                                             low_V / mV, share * 100.0, rules.zero_warned * 100.0));
  if (!around.signal_in_air) return;
  const double in_air_V = signal_in_air_V(calibration);
  const auto& permitted = *around.signal_in_air;
  if (!(in_air_V >= permitted.low.si() && in_air_V <= permitted.high.si()))
    refuse_without_reason(judgement,
                          fmt::format("the signal in air would be {:.2f} mV ({:.2f} to {:.2f} mV are permitted): "
                                      "check the wiring, else replace the cell",
                                      in_air_V / mV, permitted.low.si() / mV, permitted.high.si() / mV));
}

void judge_change(double change, const CalibrationRecord& against, std::string_view which, const JudgementRules& rules,
                  Judgement& judgement) {
  const double size = std::abs(change);
  if (size <= rules.change_warned) return;
  const std::string text =
      fmt::format("the sensitivity is {:.1f} % {} than that of {} (record {}, the {})", size * 100.0,
                  change < 0.0 ? "lower" : "higher", day_text(against.performed), against.number, which);
  if (size > rules.change_refused)
    refuse_without_reason(judgement,
                          fmt::format("{}, at most {:.0f} % goes without a reason: make sure of the gas, then say "
                                      "what explains it",
                                      text, rules.change_refused * 100.0));
  else
    judgement.warnings.push_back(fmt::format("{}: more than {:.0f} %", text, rules.change_warned * 100.0));
}

void judge_wear(double share, const CalibrationRecord& first, const JudgementRules& rules, Judgement& judgement) {
  if (share < rules.failure_share)
    refuse(judgement,
           fmt::format("the sensitivity is {:.0f} % of the first one (record {}; at least {:.0f} %): the cell is "
                       "spent, replace it",
                       share * 100.0, first.number, rules.failure_share * 100.0));
  else if (share < rules.maintenance_share)
    judgement.warnings.push_back(
        fmt::format("the sensitivity is {:.0f} % of the first one (below {:.0f} %): maintenance "
                    "required, order a new cell",
                    share * 100.0, rules.maintenance_share * 100.0));
}

void judge_against_life(const CalibrationRecord& proposed, const std::vector<CalibrationRecord>& records,
                        const JudgementRules& rules, Judgement& judgement) {
  auto standing = effective_of(records, proposed.serial);
  std::erase_if(standing, [&](const auto& record) {
    return record.act != CalibrationAct::adjustment || !record.characteristic ||
           record.performed >= proposed.performed || record.number == proposed.supersedes;
  });
  if (standing.empty()) return;
  const auto& first = standing.front();
  const auto& previous = standing.back();
  const auto& cell = *proposed.characteristic;
  if (previous.characteristic->sensitivity_unit != cell.sensitivity_unit) {
    judgement.warnings.push_back(
        fmt::format("the cell model was {} in record {} and is {} now: the sensitivities cannot "
                    "be compared",
                    previous.model, previous.number, proposed.model));
    return;
  }
  judge_change(cell.sensitivity / previous.characteristic->sensitivity - 1.0, previous, "previous one", rules,
               judgement);
  if (first.characteristic->sensitivity_unit != cell.sensitivity_unit) return;
  const double share = cell.sensitivity / first.characteristic->sensitivity;
  if (first.number != previous.number) judge_change(share - 1.0, first, "first one", rules, judgement);
  judge_wear(share, first, rules, judgement);
}

} // namespace

void judge_adjustment(const CalibrationRecord& proposed, const std::vector<CalibrationRecord>& records,
                      const Circumstances& around, const JudgementRules& rules, Judgement& judgement) {
  if (!around.equation_error.empty()) refuse(judgement, around.equation_error);
  if (!proposed.calibration || !proposed.characteristic) {
    if (around.equation_error.empty())
      refuse(judgement, "no sensitivity was derived from the points: give the cell model and take the points again");
    return;
  }
  if (!is_nernst(proposed)) judge_signals(*proposed.calibration, around, rules, judgement);
  const auto& cell = *proposed.characteristic;
  const double u_relative = cell.u_sensitivity / std::abs(cell.sensitivity);
  if (!(u_relative <= rules.u_sensitivity_warned))
    judgement.warnings.push_back(
        fmt::format("the sensitivity is uncertain by {:.1f} % (k = 1; better below {:.1f} %): the "
                    "expanded uncertainty in air exceeds what a check permits",
                    u_relative * 100.0, rules.u_sensitivity_warned * 100.0));
  judge_against_life(proposed, records, rules, judgement);
}

} // namespace oxherd::daemon
