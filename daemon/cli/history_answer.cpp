#include "daemon/cli/history_answer.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

/// A hundred thousand readings take 55 MB, and more where their reasons are long.
constexpr std::size_t answer_bytes_max = 128U << 20U;

nlohmann::json history_request(const HistoryQuestion& question) {
  const auto& query = question.query;
  nlohmann::json out{{"command", "history"},
                     {"what", question.what},
                     {"from", rfc3339(query.from)},
                     {"to", rfc3339(query.to)},
                     {"limit", query.limit}};
  if (query.room) out["room"] = *query.room;
  if (query.sensor) out["sensor"] = *query.sensor;
  if (query.alarm) out["alarm"] = *query.alarm;
  if (query.as_recorded) out["as_recorded"] = true;
  return out;
}

tl::expected<nlohmann::json, AnswerError> history_in_files(const std::filesystem::path& state_dir,
                                                           const HistoryQuestion& question) {
  const auto line = [&]() -> tl::expected<std::string, StoreError> {
    if (question.what == "alarms")
      return alarm_history(state_dir, question.query).map([](const auto& h) { return history_payload(h); });
    return reading_history(state_dir, question.query).map([](const auto& h) { return history_payload(h); });
  }();
  if (!line) return tl::unexpected(AnswerError{failed, line.error().what});
  return read_answer(fmt::format("{{\"ok\":true,\"result\":{}}}", *line));
}

} // namespace

tl::expected<nlohmann::json, AnswerError> history_answer(const std::filesystem::path& state_dir,
                                                         const HistoryQuestion& question, Console& console) {
  auto result = ask(state_dir, history_request(question), {.answer_bytes_max = answer_bytes_max});
  if (result || result.error().exit != no_daemon) return result;
  auto files = history_in_files(state_dir, question);
  if (!files)
    return tl::unexpected(AnswerError{no_daemon, fmt::format("{}; {}", result.error().what, files.error().what)});
  console.err << fmt::format("oxherd {}: no daemon answers in {}: these are the records it left\n", question.command,
                             state_dir.string());
  return files;
}

} // namespace oxherd::daemon::cli
