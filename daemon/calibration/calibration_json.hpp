#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>
#include <tl/expected.hpp>

#include "compensation/calibration.hpp"

namespace oxherd::daemon {

/// A calibration as one JSON object, SI units in its keys, every double to its last bit. The one form of it: it stands
/// in calibration records (record_json.hpp) and in what recorded readings rest on (store/basis_text.hpp). How far the
/// probes of two times are the same is not kept: a calibration from a record takes them as independent.
[[nodiscard]] std::string calibration_json(const compensation::Calibration& calibration);
/// One point of it.
[[nodiscard]] std::string values_json(const compensation::CalibrationPoint& point);

/// Reads what calibration_json wrote, as strictly as record_from_json.
/// @return a sentence that names the place: `span.signal_V.u is not a number`
/// @checked tests/daemon/store/basis_text_test.cpp, and within records tests/daemon/calibration/record_json_test.cpp
[[nodiscard]] tl::expected<compensation::Calibration, std::string> calibration_from_json(const nlohmann::json& object);

} // namespace oxherd::daemon
