#include <algorithm>

#include <fmt/core.h>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "compensation/units.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/progress_line.hpp"
#include "daemon/cli/rehearse_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/time_span.hpp"
#include "daemon/clock.hpp"
#include "daemon/rehearse/csv_data.hpp"
#include "daemon/rehearse/fitting.hpp"
#include "daemon/rehearse/payload.hpp"
#include "daemon/rehearse/store_data.hpp"

namespace oxherd::daemon::cli {
namespace {

using rehearse::DataSource;
using rehearse::Rehearsing;
using Source = std::unique_ptr<DataSource>;

std::vector<Option> rehearse_options() {
  return {{"--rules", "FILE", "settings file whose alarms are rehearsed; it needs no sensors", "larkfield.toml"},
          {"--against", "FILE", "another one to compare with, over the same data", "stricter.toml"},
          {"--room", "ROOM", "only this room; the room of columns that name none", "cryo-annexe"},
          {"--from", "TIME", "without IN.csv: recorded readings from then on, RFC 3339", "2026-03-01T00:00:00+01:00"},
          {"--to", "TIME", "end of these (default: now)", "2026-04-01T00:00:00+02:00"},
          {"--last", "DURATION", "the time until the end, in place of --from: 2h, 7d", "7d"},
          {"--acknowledge-after", "DURATION", "when people acknowledge: 30s, 5min (default), or never", "5min"},
          {"--regime", "REGIME", "that the rooms are in, doors closed (default: as in the file)", "occupied"},
          {"--every", "DURATION", "period of the samples (default: found out)", "10s"},
          {"--zone", "ZONE", "of times that state no offset: +01:00, Europe/Amsterdam (default UTC)", "+01:00"},
          {"--time-format", "FORMAT", "of the times in IN.csv (default: found out)", "%d.%m.%Y %H:%M:%S"},
          {"--journal", "", "print the journal alone", ""},
          {"--summary", "", "print the figures alone", ""},
          {"--progress", "", "tell how far it is, also where standard error is no terminal", ""},
          state_dir_option(),
          json_option("print all of it as one line of JSON, times in UTC")};
}

/// The duration of one option; a sentence when it is none.
tl::expected<std::optional<Monotonic>, std::string> duration_option(const Arguments& arguments,
                                                                    const std::string& option) {
  const auto typed = arguments.value(option);
  if (!typed) return std::nullopt;
  const auto seconds = compensation::parse_quantity(*typed, compensation::Dimension::duration);
  if (!seconds) return tl::unexpected(option + ": " + printable(seconds.error().message));
  constexpr double longest_s = 10.0 * 365.0 * 86400.0;
  if (*seconds < 0.0 || *seconds > longest_s)
    return tl::unexpected(fmt::format("{}: \"{}\" is not a time from 0 s to ten years", option, printable(*typed)));
  return Monotonic{static_cast<std::int64_t>(*seconds * 1e3 + 0.5)};
}

struct WantedRehearsal {
  std::vector<std::string> files;
  std::optional<std::string> input; ///< empty: the store
  std::optional<std::chrono::milliseconds> every;
  rehearse::Conduct conduct;
  TimeSpan span;
};

/// What the input says, before any file is opened.
tl::expected<void, std::string> check_words(const Arguments& arguments) {
  if (!arguments.given("--rules"))
    return tl::unexpected(std::string{"--rules is missing: name the settings file whose alarms are to be rehearsed"});
  const auto& words = arguments.positional();
  const bool of_store = arguments.given("--from") || arguments.given("--last");
  if (words.size() > 1) return tl::unexpected(std::string{"name one file of data; --against takes a second rule file"});
  if (words.empty() && !of_store)
    return tl::unexpected(std::string{"name the data: a file IN.csv, or the time of recorded readings with --from or "
                                      "--last"});
  for (const std::string_view option : {"--from", "--to", "--last", "--state-dir"})
    if (!words.empty() && arguments.given(option))
      return tl::unexpected(fmt::format("{} belongs to recorded readings, and {} is given too; leave one out", option,
                                        printable(words[0])));
  for (const std::string_view option : {"--zone", "--time-format"})
    if (words.empty() && arguments.given(option))
      return tl::unexpected(fmt::format("{} belongs to a file IN.csv, and none is given", option));
  const int forms = arguments.given("--journal") + arguments.given("--summary") + arguments.given("--json");
  if (forms > 1)
    return tl::unexpected(std::string{"--journal, --summary and --json exclude each other; without them both the "
                                      "journal and the figures are printed"});
  return {};
}

tl::expected<WantedRehearsal, std::string> read_wanted_rehearsal(const Arguments& arguments, WallTime now) {
  if (const auto words = check_words(arguments); !words) return tl::unexpected(words.error());
  WantedRehearsal wanted;
  wanted.files.push_back(*arguments.value("--rules"));
  if (const auto against = arguments.value("--against")) wanted.files.push_back(*against);
  if (!arguments.positional().empty()) wanted.input = arguments.positional().front();
  const auto every = duration_option(arguments, "--every");
  if (!every) return tl::unexpected(every.error());
  if (*every && **every < Monotonic{1}) return tl::unexpected(std::string{"--every: a period of at least 1 ms"});
  wanted.every = *every;
  if (arguments.value("--acknowledge-after") == "never") {
    wanted.conduct.acknowledge_after.reset();
  } else {
    const auto after = duration_option(arguments, "--acknowledge-after");
    if (!after) return tl::unexpected(after.error() + "; or write never");
    if (*after) wanted.conduct.acknowledge_after = **after;
  }
  if (const auto regime = arguments.value("--regime")) {
    wanted.conduct.regime = alarms::regime_named(*regime);
    if (!wanted.conduct.regime)
      return tl::unexpected(fmt::format("--regime: \"{}\" is none; write occupied, ventilated-before-entry, "
                                        "sealed-low-oxygen or enriched",
                                        printable(*regime)));
  }
  if (!wanted.input) {
    const auto span = read_time_span(arguments, now, std::nullopt);
    if (!span) return tl::unexpected(span.error());
    wanted.span = *span;
  }
  return wanted;
}

/// Loads a settings file; its problems go to standard error, as `oxherd check` prints them.
std::optional<rehearse::Rules> load_rules(const std::string& file, Console& console) {
  auto loaded = config::load(file, profile_dirs(), config::Purpose::rehearse);
  if (loaded) return rehearse::Rules{file, std::move(loaded->settings)};
  for (const auto& problem : loaded.error()) console.err << printable(config::to_string(problem)) << '\n';
  return std::nullopt;
}

/// A room that the rules do not have, and which one may be meant.
std::optional<std::string> unknown_room(const Arguments& arguments, const rehearse::Rules& rules) {
  const auto room = arguments.value("--room");
  if (!room || config::room_named(rules.settings.rooms, *room) != nullptr) return std::nullopt;
  std::vector<std::string> names;
  for (const auto& one : rules.settings.rooms) names.push_back(one.name);
  return fmt::format("--room: {} has no room \"{}\"; there is {}", printable(rules.file), printable(*room),
                     config::listed_nearest_first(*room, names));
}

tl::expected<Source, logfile::Failure> open_data(const Arguments& arguments, const WantedRehearsal& wanted,
                                                 const rehearse::Rules& rules) {
  const auto& rooms = rules.settings.rooms;
  const auto room = arguments.value("--room");
  if (!wanted.input)
    return rehearse::StoreData::open(state_dir_of(arguments),
                                     {rooms, room, wanted.every, wanted.span.from, wanted.span.to})
        .map([](auto&& data) -> Source { return std::move(data); });
  return rehearse::CsvData::open(
             *wanted.input, {rooms, room, wanted.every, arguments.value("--zone"), arguments.value("--time-format")})
      .map([](auto&& data) -> Source { return std::move(data); });
}

int report_failure(Console& console, const logfile::Failure& failure) {
  return report(console, "rehearse", {failed, printable(failure.what)});
}

/// Rows that were left out must not pass for quiet time: the exit code tells a script.
int exit_for(const rehearse::Rehearsed& done) {
  return done.data.unreadable.count + done.data.backwards.count > 0 ? marked : fine;
}

int run_rehearse(const Arguments& arguments, Console& console) {
  const auto wanted = read_wanted_rehearsal(arguments, wall_now());
  if (!wanted) return report(console, "rehearse", {usage, wanted.error()});
  Rehearsing rehearsing;
  for (const auto& file : wanted->files) {
    auto rules = load_rules(file, console);
    if (!rules) return failed;
    if (const auto unknown = unknown_room(arguments, *rules)) return report(console, "rehearse", {failed, *unknown});
    rehearsing.rules.push_back(std::move(*rules));
  }
  const auto data = open_data(arguments, *wanted, rehearsing.rules.front());
  if (!data) return report_failure(console, data.error());
  const InterruptGuard guard;
  ProgressLine line{console.err, arguments.given("--progress") || isatty(STDERR_FILENO) == 1};
  rehearsing.conduct = wanted->conduct;
  rehearsing.progress = [&line](std::uint64_t samples, std::optional<double> part) {
    line.show_part(samples, part.value_or(0.0));
    return !InterruptGuard::interrupted();
  };
  const auto done = rehearse::rehearse(**data, rehearsing);
  line.clear();
  if (!done && InterruptGuard::interrupted()) return report(console, "rehearse", {cut_short, done.error().what});
  if (!done) return report_failure(console, done.error());
  if (arguments.given("--json")) {
    console.out << rehearse::rehearsal_payload(*done) << '\n';
    return exit_for(*done);
  }
  console.out << wrapped(alarms::caution_long(), 100, 0) << "\n\n" << rehearsal_head_text(*done);
  if (!arguments.given("--summary")) console.out << rehearsal_journal_text(*done);
  if (!arguments.given("--journal")) console.out << rehearsal_summary_text(*done);
  return exit_for(*done);
}

} // namespace

const Command rehearse_entry{
    "rehearse",
    "the journal that alarm rules would have made of recorded data",
    "Runs the alarms of a settings file over a table of readings, or over what a daemon recorded, by the daemon's own "
    "rules on a simulated clock, and prints the journal they would have made and how each alarm would have performed. "
    "With --against it runs two files over the same data and says what differs. Nothing is written and no alarm is "
    "raised. The file is an ordinary settings file, so that it can go live as it is; rooms without sensors may stand "
    "in it, then take the columns of the data. Columns are told by their names: a time, \"oxygen [%]\", "
    "\"carbon-dioxide [ppm]\" or \"ROOM/SENSOR [%]\", the same with \"u \" in front for the standard uncertainty, and "
    "\"quality\" (good, uncertain, bad); the files of `oxherd correct` and `oxherd history --csv` are taken as they "
    "are. An empty value is a bad sample, and so is one whose row says nothing in a column for its uncertainty, "
    "quality or partial pressure. A row whose time is before that of another before it is left out and counted, as is "
    "one without a time; then the exit code is 5. Needs no daemon.",
    "[IN.csv]",
    "oxherd rehearse --rules demo/larkfield.toml --room cryo-annexe demo/cryo-annexe.csv\n"
    "oxherd rehearse --rules larkfield.toml --against stricter.toml readings.csv --summary\n"
    "oxherd rehearse --rules larkfield.toml --last 30d --json",
    rehearse_options,
    run_rehearse};

} // namespace oxherd::daemon::cli
