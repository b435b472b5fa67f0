#pragma once

#include <optional>
#include <string>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/explanation.hpp"

namespace oxherd::daemon::cli {

/// Which recorded reading.
struct StoredQuestion {
  std::string room, sensor;
  std::optional<WallTime> at; ///< the last reading at or before it; absent: the last of all
};

/// Reads --room, --sensor and --at; the error is a sentence. Refuses values typed beside them.
[[nodiscard]] tl::expected<StoredQuestion, std::string> read_stored_question(const Arguments& arguments);

/// From the daemon, or from the files when none runs; then `note` says so.
[[nodiscard]] tl::expected<RecordedOxygen, AnswerError>
fetch_recorded(const StoredQuestion& question, const std::filesystem::path& state_dir, std::string& note);

/// Forms the reading anew, step for step, with what counts for it now.
[[nodiscard]] Explanation explanation_of(RecordedOxygen recorded);

/// The parts of a report that a recorded reading has beside those of a typed one.
[[nodiscard]] std::string stored_heading(const Explanation& explained);
[[nodiscard]] std::string stored_calibration(const Explanation& explained);
[[nodiscard]] std::string stored_proof(const RecordedFacts& stored);
/// JSON object.
[[nodiscard]] std::string stored_json(const Explanation& explained);

} // namespace oxherd::daemon::cli
