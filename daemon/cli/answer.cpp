#include "daemon/cli/answer.hpp"

#include <cmath>
#include <cstdlib>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/text.hpp"
#include "daemon/json_depth.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

constexpr int depth_max = 32; // ours nest less than ten deep; an overly deep one would exhaust the stack when printed

const json* member(const json& object, std::string_view key) {
  if (!object.is_object()) return nullptr;
  const auto found = object.find(std::string{key});
  return found == object.end() ? nullptr : &*found;
}

AnswerError not_understood(std::string_view why) {
  return {failed, fmt::format("the daemon's answer could not be understood: {}", why)};
}

int exit_of(std::string_view kind) { return kind == "refused" ? refused : failed; }

} // namespace

tl::expected<json, AnswerError> read_answer(std::string_view line) {
  if (json_depth(line) > depth_max) return tl::unexpected(not_understood("it is nested too deeply"));
  auto answer = json::parse(line, nullptr, false);
  if (!answer.is_object()) return tl::unexpected(not_understood("it is not a JSON object"));
  const json* ok = member(answer, "ok");
  if (ok == nullptr || !ok->is_boolean()) return tl::unexpected(not_understood("it does not say whether it is ok"));
  if (!ok->get<bool>()) {
    const auto words = text_of(answer, "error");
    const auto kind = text_of(answer, "kind");
    return tl::unexpected(AnswerError{exit_of(kind), words.empty() ? "the daemon gave no reason" : words, kind});
  }
  if (member(answer, "result") == nullptr) return tl::unexpected(not_understood("it has no result"));
  return std::move(answer["result"]);
}

tl::expected<json, AnswerError> ask(const std::filesystem::path& state_dir, const json& request, ClientLimits limits) {
  const auto line = ask_daemon(state_dir, request.dump(-1, ' ', false, json::error_handler_t::replace), limits);
  if (line) return read_answer(*line);
  return tl::unexpected(
      AnswerError{line.error().kind == Unanswered::no_daemon ? no_daemon : failed, line.error().what});
}

int report(Console& console, std::string_view command, const AnswerError& error) {
  console.err << fmt::format("oxherd {}: {}\n", command, error.what);
  return error.exit;
}

std::string text_of(const json& object, std::string_view key) {
  const json* found = member(object, key);
  return found != nullptr && found->is_string() ? printable(found->get_ref<const std::string&>()) : std::string{};
}

std::optional<double> number_of(const json& object, std::string_view key) {
  const json* found = member(object, key);
  if (found == nullptr || !found->is_number()) return std::nullopt;
  const double value = found->get<double>();
  return std::isfinite(value) ? std::optional{value} : std::nullopt;
}

std::string not_recorded_text(std::string_view what) {
  return fmt::format(
      "NOT RECORDED YET: {} counts, but the store does not take it at present; look at `oxherd status`\n", what);
}

bool is_true(const json& object, std::string_view key) {
  const json* found = member(object, key);
  return found != nullptr && found->is_boolean() && found->get<bool>();
}

const json& list_of(const json& object, std::string_view key) {
  static const json empty = json::array();
  const json* found = member(object, key);
  return found != nullptr && found->is_array() ? *found : empty;
}

const json& object_of(const json& object, std::string_view key) {
  static const json empty = json::object();
  const json* found = member(object, key);
  return found != nullptr && found->is_object() ? *found : empty;
}

std::string local_time_of(const json& object, std::string_view key) {
  const auto written = text_of(object, key);
  if (written.empty()) return "-";
  const auto time = parse_rfc3339(written);
  return time ? rfc3339_local(*time) : written;
}

std::string json_text_of(const json& document) {
  return document.dump(-1, ' ', false, json::error_handler_t::replace) + '\n';
}

std::filesystem::path state_dir_of(const Arguments& arguments) {
  if (const auto given = arguments.value("--state-dir")) return *given;
  // The service manager may name several, separated by colons; the first is ours.
  const char* environment = std::getenv("STATE_DIRECTORY");
  const std::string_view listed = environment == nullptr ? "" : environment;
  const auto first = listed.substr(0, listed.find(':'));
  return first.empty() ? std::filesystem::path{"/var/lib/oxherd"} : std::filesystem::path{first};
}

Option state_dir_option() {
  return {"--state-dir", "DIR", "where the daemon keeps its state (default: $STATE_DIRECTORY, else /var/lib/oxherd)",
          "/var/lib/oxherd"};
}

Option json_option(std::string_view help) { return {"--json", "", std::string{help}, ""}; }

} // namespace oxherd::daemon::cli
