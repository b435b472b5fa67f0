#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// How much is told of a room that needs nobody.
enum class Detail {
  full, ///< each of its sensors
  brief ///< its values only; a room that needs a person is told in full
};

/// The text of a status answer in the parts that a small screen has to choose from; lines, each ended.
struct StatusParts {
  std::string head; ///< site, time, version
  std::string body; ///< the worst rooms first, then buses, broker and records
  std::string foot; ///< the caution
};
[[nodiscard]] StatusParts status_parts(const Console& console, const nlohmann::json& status, Detail detail);

/// How many rooms need a person and which, the worst first, in one line; that none does is no word about their air.
[[nodiscard]] std::string attention_line(const Console& console, const nlohmann::json& status);

/// The result of a status request for a person: the worst rooms first, then buses, broker and records, then the
/// caution. Copes with any JSON object.
[[nodiscard]] std::string status_text(const Console& console, const nlohmann::json& status);

} // namespace oxherd::daemon::cli
