#pragma once

#include <optional>
#include <string>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/calibration/check.hpp"
#include "daemon/calibration/in_force.hpp"

namespace oxherd::daemon {

/// Who issues certificates. What is empty is named as not stated; nothing is invented.
struct CertificateHead {
  std::string organisation; ///< that performed the calibration
  std::string address;
  std::string place;                  ///< where it was performed; empty: the room of the sensor
  std::string owner;                  ///< of the cell
  std::string number_prefix = "CAL-"; ///< before the record's number, which is unique in one state directory only
  std::string method;                 ///< a procedure of the site; empty: described in words
  std::string authorised_by;          ///< who signs for it
};

/// What the settings say of it.
[[nodiscard]] CertificateHead head_of(const config::Issuer& issuer);

/// What one certificate is to say beyond its record.
struct CertificateOptions {
  CertificateHead head;
  WallTime issued;
  Standing standing;                        ///< of the record, as standing_of gives it
  std::string item_condition;               ///< as seen: "clean, dry, connector tight"; empty: no remark was recorded
  std::optional<CheckTolerance> conformity; ///< only then it states conformity, with the decision rule
  std::optional<WallTime> next_due;         ///< only when the owner asked for it
};

/// A certificate to print: one HTML document without scripts or anything from elsewhere, laid out for A4. It carries
/// what ISO/IEC 17025:2017, clause 7.8, asks of a calibration certificate, and claims no accreditation.
/// @return a sentence for a withdrawal, which has no result to certify
/// @checked tests/daemon/calibration/certificate_test.cpp
[[nodiscard]] tl::expected<std::string, std::string> certificate_html(const CalibrationRecord& record,
                                                                      const CertificateOptions& options);

/// The same statements as one JSON object, with the record itself under "record".
[[nodiscard]] tl::expected<std::string, std::string> certificate_json(const CalibrationRecord& record,
                                                                      const CertificateOptions& options);

} // namespace oxherd::daemon
