#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace oxherd::daemon::cli {

/// The live signal in one line: "12.603 mV, 20.93 % by the present calibration, 84 of 120 s; the signal still rises
/// ...".
[[nodiscard]] std::string live_line(const nlohmann::json& look);
/// What a signal is still waited for, in one sentence.
[[nodiscard]] std::string waiting_text(const nlohmann::json& look);
/// A proposed record: points, as found, as left, sensitivity, and what speaks against it.
[[nodiscard]] std::string proposal_text(const nlohmann::json& proposal);
/// What was recorded, and what to do next.
[[nodiscard]] std::string stored_text(const nlohmann::json& stored);

} // namespace oxherd::daemon::cli
