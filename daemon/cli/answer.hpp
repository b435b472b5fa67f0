#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>
#include <tl/expected.hpp>

#include "daemon/cli/arguments.hpp"
#include "daemon/cli/client.hpp"
#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// A request that brought no result: the exit code and the sentence for standard error.
struct AnswerError {
  int exit = failed;
  std::string what;
  std::string kind = {}; ///< as the daemon named it (control_socket/requests.hpp); empty when it did not answer so
};

/// Reads an answer line: {"ok":true,"result":...} or {"ok":false,"error":...,"kind":...}. Refuses what is not JSON,
/// what is nested deeper than any answer of ours, and an answer without a result.
[[nodiscard]] tl::expected<nlohmann::json, AnswerError> read_answer(std::string_view line);

/// Asks the daemon of `state_dir` and reads its answer.
[[nodiscard]] tl::expected<nlohmann::json, AnswerError> ask(const std::filesystem::path& state_dir,
                                                            const nlohmann::json& request, ClientLimits limits = {});

/// Prints the error with the command's name and returns its exit code.
[[nodiscard]] int report(Console& console, std::string_view command, const AnswerError& error);

/// Members of an answer, which is not trusted: what is missing or of another type is simply absent, text is made
/// harmless for a terminal.
[[nodiscard]] std::string text_of(const nlohmann::json& object, std::string_view key);
[[nodiscard]] std::optional<double> number_of(const nlohmann::json& object, std::string_view key);
/// That something counts but is not on the disk: "the act", "the order".
[[nodiscard]] std::string not_recorded_text(std::string_view what);
[[nodiscard]] bool is_true(const nlohmann::json& object, std::string_view key);
[[nodiscard]] const nlohmann::json& list_of(const nlohmann::json& object, std::string_view key); ///< or an empty list
[[nodiscard]] const nlohmann::json& object_of(const nlohmann::json& object,
                                              std::string_view key); ///< or an empty object

/// An RFC 3339 time of an answer in the machine's own time zone; as it came when it cannot be read; "-" when missing.
[[nodiscard]] std::string local_time_of(const nlohmann::json& object, std::string_view key);

/// The document for `--json`: one line, always valid UTF-8.
[[nodiscard]] std::string json_text_of(const nlohmann::json& document);

/// The state directory: --state-dir, else $STATE_DIRECTORY, else /var/lib/oxherd.
[[nodiscard]] std::filesystem::path state_dir_of(const Arguments& arguments);
[[nodiscard]] Option state_dir_option();
[[nodiscard]] Option json_option(std::string_view help = "print one line of JSON, times in UTC");

} // namespace oxherd::daemon::cli
