#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/calibration/certificate.hpp"
#include "daemon/calibration/rounding.hpp"

namespace oxherd::daemon {

/// Sentences and figures that both forms of a certificate carry.
inline constexpr double certificate_coverage = 2.0; ///< k of every expanded uncertainty, about 95 % of a normal spread

[[nodiscard]] std::string certificate_number(const CalibrationRecord& record, const CertificateHead& head);
[[nodiscard]] std::string_view certificate_title(CalibrationAct act); ///< "Calibration certificate", ...
[[nodiscard]] std::string method_text(const CalibrationRecord& record, const CertificateHead& head);
[[nodiscard]] std::string traceability_text(const ReferenceGas& gas);
[[nodiscard]] std::string_view uncertainty_text();
[[nodiscard]] std::string_view scope_text();    ///< what the results apply to, and what is not claimed
[[nodiscard]] std::string_view decision_rule(); ///< of a statement of conformity
[[nodiscard]] std::string standing_text(const Standing& standing,
                                        const CertificateHead& head); ///< empty while it stands

/// Expanded with k = 2 and scaled to the unit that people read.
template <class Q> WithExpanded expanded(const Uncertain<Q>& quantity, double per_si, double offset = 0.0) {
  return {quantity.value.si() * per_si + offset, certificate_coverage * quantity.u_si * per_si};
}

/// A sensitivity in the unit that people read.
struct ReadableUnit {
  double per_si = 1.0;
  std::string_view text; ///< empty for a ratio
};
[[nodiscard]] ReadableUnit readable_sensitivity_unit(std::string_view si_unit);

} // namespace oxherd::daemon
