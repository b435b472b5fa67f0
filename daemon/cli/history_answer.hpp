#pragma once

#include <filesystem>
#include <string_view>

#include <nlohmann/json_fwd.hpp>
#include <tl/expected.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/console.hpp"
#include "daemon/store/history.hpp"

namespace oxherd::daemon::cli {

/// A question to the records, and who asks it.
struct HistoryQuestion {
  std::string_view command; ///< "history": named where something is said on standard error
  std::string_view what;    ///< "readings" or "alarms"
  const HistoryQuery& query;
};

/// The daemon's answer to a history request. Where none runs, its files are read, which is said on standard error: a
/// daemon that does not run must not hide its records.
[[nodiscard]] tl::expected<nlohmann::json, AnswerError>
history_answer(const std::filesystem::path& state_dir, const HistoryQuestion& question, Console& console);

} // namespace oxherd::daemon::cli
