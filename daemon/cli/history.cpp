#include <charconv>
#include <chrono>
#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "compensation/units.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/history_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/control_socket/requests.hpp"
#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr int limit_default = 1000;

std::vector<Option> history_options() {
  return {{"--room", "ROOM", "only this room", "cryo-annexe"},
          {"--sensor", "SENSOR", "only this sensor (readings)", "cell-a"},
          {"--alarm", "ALARM", "only this alarm (alarms)", "low-oxygen"},
          {"--last", "DURATION", "the time until now: 90min, 2h, 7d (default 1h)", "2h"},
          {"--from", "TIME", "start, RFC 3339 with offset", "2026-03-01T08:00:00+01:00"},
          {"--to", "TIME", "end (default: now)", "2026-03-01T09:00:00+01:00"},
          {"--limit", "N", "at most so many, the newest (default 1000, at most 100000)", "200"},
          state_dir_option(),
          json_option()};
}

struct Wanted {
  std::string what = "readings";
  HistoryQuery query;
};

tl::expected<int, std::string> limit_of(const Arguments& arguments) {
  const auto typed = arguments.value("--limit");
  if (!typed) return limit_default;
  int n = 0;
  const auto [end, error] = std::from_chars(typed->data(), typed->data() + typed->size(), n);
  if (error != std::errc{} || end != typed->data() + typed->size() || n < 1 || n > history_limit_max)
    return tl::unexpected(
        fmt::format("--limit: \"{}\" is not a whole number from 1 to {}", printable(*typed), history_limit_max));
  return n;
}

tl::expected<WallTime, std::string> time_in(const Arguments& arguments, std::string_view option, WallTime otherwise) {
  const auto typed = arguments.value(option);
  if (!typed) return otherwise;
  const auto time = parse_rfc3339(*typed);
  if (time) return *time;
  return tl::unexpected(fmt::format("{}: \"{}\" is not a time; write it with its offset, such as "
                                    "\"2026-03-01T08:00:00+01:00\" or \"2026-03-01T07:00:00Z\"",
                                    option, printable(*typed)));
}

tl::expected<void, std::string> read_span(const Arguments& arguments, WallTime now, HistoryQuery& query) {
  const auto last = arguments.value_or("--last", "1h");
  const bool from_given = arguments.given("--from");
  if (arguments.given("--last") && from_given)
    return tl::unexpected(std::string{"--last and --from exclude each other"});
  const auto length_s = compensation::parse_quantity(last, compensation::Dimension::duration);
  if (!length_s) return tl::unexpected(fmt::format("--last: {}", length_s.error().message));
  if (*length_s <= 0.0 || *length_s > 1e10)
    return tl::unexpected(std::string{"--last: write a duration such as \"2h\""});
  const auto to = time_in(arguments, "--to", now);
  if (!to) return tl::unexpected(to.error());
  const auto from = time_in(arguments, "--from", *to - std::chrono::milliseconds{std::llround(*length_s * 1e3)});
  if (!from) return tl::unexpected(from.error());
  if (*from >= *to) return tl::unexpected(std::string{"the start lies after the end: nothing can be in between"});
  query.from = *from;
  query.to = *to;
  return {};
}

tl::expected<Wanted, std::string> read_wanted(const Arguments& arguments, WallTime now) {
  Wanted out;
  const auto& words = arguments.positional();
  if (words.size() > 1) return tl::unexpected(std::string{"name one of readings and alarms"});
  if (!words.empty()) out.what = words[0];
  if (out.what != "readings" && out.what != "alarms") {
    const auto meant = config::nearest(out.what, {"readings", "alarms"});
    return tl::unexpected(
        fmt::format("there is no history of \"{}\"; {}", printable(out.what),
                    meant ? fmt::format("did you mean \"{}\"?", *meant) : std::string{"it is readings or alarms"}));
  }
  if (out.what == "readings" && arguments.given("--alarm"))
    return tl::unexpected(std::string{"--alarm belongs to `history alarms`"});
  if (out.what == "alarms" && arguments.given("--sensor"))
    return tl::unexpected(std::string{"--sensor belongs to `history readings`"});
  out.query.room = arguments.value("--room");
  out.query.sensor = arguments.value("--sensor");
  out.query.alarm = arguments.value("--alarm");
  const auto limit = limit_of(arguments);
  if (!limit) return tl::unexpected(limit.error());
  out.query.limit = *limit;
  if (const auto span = read_span(arguments, now, out.query); !span) return tl::unexpected(span.error());
  return out;
}

nlohmann::json request_for(const Wanted& wanted) {
  const auto& query = wanted.query;
  nlohmann::json out{{"command", "history"},
                     {"what", wanted.what},
                     {"from", rfc3339(query.from)},
                     {"to", rfc3339(query.to)},
                     {"limit", query.limit}};
  if (query.room) out["room"] = *query.room;
  if (query.sensor) out["sensor"] = *query.sensor;
  if (query.alarm) out["alarm"] = *query.alarm;
  return out;
}

/// Reads the files themselves: a daemon that does not run must not hide its records.
tl::expected<nlohmann::json, AnswerError> from_files(const Wanted& wanted, const std::filesystem::path& state_dir) {
  const auto line = [&]() -> tl::expected<std::string, StoreError> {
    if (wanted.what == "alarms")
      return alarm_history(state_dir, wanted.query).map([](const auto& h) { return history_payload(h); });
    return reading_history(state_dir, wanted.query).map([](const auto& h) { return history_payload(h); });
  }();
  if (!line) return tl::unexpected(AnswerError{failed, line.error().what});
  return read_answer(fmt::format("{{\"ok\":true,\"result\":{}}}", *line));
}

int run_history(const Arguments& arguments, Console& console) {
  const auto now = std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
  const auto wanted = read_wanted(arguments, now);
  if (!wanted) return report(console, "history", {usage, wanted.error()});
  const auto state_dir = state_dir_of(arguments);
  auto result = ask(state_dir, request_for(*wanted));
  if (!result && result.error().exit == no_daemon) {
    const auto files = from_files(*wanted, state_dir);
    if (!files)
      return report(console, "history", {no_daemon, fmt::format("{}; {}", result.error().what, files.error().what)});
    console.err << fmt::format("oxherd history: no daemon answers in {}: these are the records it left\n",
                               state_dir.string());
    result = *files;
  }
  if (!result) return report(console, "history", result.error());
  if (arguments.given("--json")) {
    console.out << json_text_of(*result);
    return fine;
  }
  console.out << history_text(*result, wanted->what == "alarms") << '\n'
              << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command history_entry{"history",
                            "recorded readings, or the journal of the alarms",
                            "Prints what was recorded, the oldest first. Asks the daemon, or reads its files when none "
                            "runs. When there is more than the limit the newest are shown, and that is said.",
                            "[readings|alarms]",
                            "oxherd history readings --room cryo-annexe --sensor cell-a --last 2h\n"
                            "oxherd history alarms --room pear-store-2 --from 2026-03-01T00:00:00+01:00 --json",
                            history_options,
                            run_history};

} // namespace oxherd::daemon::cli
