#include "daemon/calibration/certificate_text.hpp"

#include <cstdlib>

#include <fmt/core.h>

#include "daemon/calibration/wording.hpp"

namespace oxherd::daemon {

CertificateHead head_of(const config::Issuer& issuer) {
  CertificateHead head;
  head.organisation = issuer.organisation;
  head.place = issuer.place;
  head.owner = issuer.owner;
  return head;
}

std::string certificate_number(const CalibrationRecord& record, const CertificateHead& head) {
  return fmt::format("{}{:06}", head.number_prefix, record.number);
}

std::string_view certificate_title(CalibrationAct act) {
  switch (act) {
  case CalibrationAct::adjustment: return "Calibration certificate";
  case CalibrationAct::check: return "Calibration check certificate";
  case CalibrationAct::bump_test: return "Bump test report";
  case CalibrationAct::withdrawal: return "Withdrawal";
  }
  std::abort(); // not one of the acts: memory is corrupt, stop loudly
}

std::string method_text(const CalibrationRecord& record, const CertificateHead& head) {
  if (!head.method.empty()) return head.method;
  switch (record.act) {
  case CalibrationAct::adjustment:
    return "The signal of the cell was taken in each gas after it was shown to be stable. With the temperature, "
           "humidity "
           "and station pressure at the cell, its sensitivity follows from the straight line through the points; "
           "readings "
           "rest on it from the time of performance on.";
  case CalibrationAct::check:
    return "The reading of the cell, corrected for temperature, humidity and station pressure with the calibration in "
           "force, was compared with each gas after the signal was shown to be stable. Nothing was adjusted.";
  case CalibrationAct::bump_test:
    return "Gas was applied to show that it reaches the cell and that the alarm acts. This is a qualitative test: it "
           "has no "
           "measured result, and nothing was adjusted.";
  case CalibrationAct::withdrawal: return {};
  }
  std::abort(); // not one of the acts: memory is corrupt, stop loudly
}

std::string traceability_text(const ReferenceGas& gas) {
  if (gas.kind == GasKind::fresh_air)
    return "The natural composition of outdoor air serves as the reference; no certified gas was used.";
  if (gas.certificate.empty()) return "No certificate was recorded: traceability is not shown.";
  return fmt::format("Certificate {} of the cylinder; {}.", gas.certificate,
                     gas.expires ? "valid until " + day_text(*gas.expires) : "no date of expiry was recorded");
}

std::string_view uncertainty_text() {
  return "The figure after ± is the expanded uncertainty U = k u with the coverage factor k = 2, which for a normal "
         "distribution covers about 95 %. The standard uncertainty u was evaluated by the Guide to the Expression of "
         "Uncertainty in Measurement (JCGM 100:2008). It does not include how the cell changes afterwards.";
}

std::string_view scope_text() {
  return "The results apply to this item only, as it was at the stated time, place and conditions. This is an internal "
         "certificate: no accreditation is claimed. It may be copied in full; parts of it only with the consent of the "
         "organisation that issued it.";
}

std::string_view decision_rule() {
  return "Decision rule: simple acceptance. A point conforms when its error is at most the tolerance; the measurement "
         "uncertainty is stated and takes no part in the decision, so near the tolerance the chance of a wrong "
         "decision "
         "reaches one half.";
}

std::string standing_text(const Standing& standing, const CertificateHead& head) {
  CalibrationRecord by;
  by.number = standing.by;
  switch (standing.kind) {
  case Standing::Kind::stands: return {};
  case Standing::Kind::replaced: return fmt::format("SUPERSEDED by {}. Do not use.", certificate_number(by, head));
  case Standing::Kind::withdrawn: return fmt::format("WITHDRAWN by record {}. Do not use.", standing.by);
  }
  std::abort(); // not one of the kinds: memory is corrupt, stop loudly
}

ReadableUnit readable_sensitivity_unit(std::string_view si_unit) {
  if (si_unit == "V/(mol/m3)") return {1e3, "mV/(mol/m³)"};
  if (si_unit == "V/Pa") return {1e6, "mV/kPa"};
  if (si_unit == "V") return {10.0, "mV per % oxygen"};
  return {1.0, si_unit};
}

} // namespace oxherd::daemon
