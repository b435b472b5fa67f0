#include "daemon/cli/commands.hpp"

#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "daemon/cli/help.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::array catalogue{&run_entry,
                               &check_entry,
                               &scan_entry,
                               &init_entry,
                               &explain_entry,
                               &correct_entry,
                               &status_entry,
                               &alarms_entry,
                               &acknowledge_entry,
                               &silence_entry,
                               &reset_entry,
                               &shelve_entry,
                               &unshelve_entry,
                               &remove_from_service_entry,
                               &return_to_service_entry,
                               &test_alarm_entry,
                               &regime_entry,
                               &control_entry,
                               &notify_entry,
                               &prove_entry,
                               &user_entry,
                               &history_entry,
                               &alarm_report_entry,
                               &audit_entry,
                               &backup_entry,
                               &restore_entry,
                               &leak_test_entry,
                               &pull_down_entry,
                               &replay_entry,
                               &rehearse_entry,
                               &collect_entry,
                               &calibrate_entry,
                               &calibrations_entry,
                               &certificate_entry,
                               &completion_entry,
                               &manual_entry};

int refuse_usage(Console& console, std::string_view where, std::string_view what) {
  console.err << fmt::format("{}: {}\n", where, what);
  return usage;
}

int unknown_command(Console& console, const std::string& word) {
  std::vector<std::string> names;
  for (const auto* command : catalogue) names.emplace_back(command->name);
  const auto meant = config::nearest(word, names);
  const bool is_option = word.starts_with('-');
  const auto hint =
      meant ? fmt::format("did you mean \"{}\"?", *meant) : std::string{"oxherd --help lists what there is"};
  return refuse_usage(console, "oxherd",
                      fmt::format("there is no {} {}; {}", is_option ? "option" : "command", printable(word), hint));
}

int run_one(const Command& command, const std::vector<std::string>& words, Console& console) {
  const auto end = std::ranges::find(words, "--");
  if (std::find(words.begin(), end, "--help") != end || std::find(words.begin(), end, "-h") != end) {
    console.out << help_of(command);
    return fine;
  }
  const auto arguments = parse_arguments(command.options(), command.positional, words);
  if (!arguments) return refuse_usage(console, fmt::format("oxherd {}", command.name), arguments.error());
  return command.run(*arguments, console);
}

} // namespace

std::span<const Command* const> commands() { return catalogue; }

int run_command_line(const std::vector<std::string>& words, Console& console) {
  if (words.empty()) {
    console.err << general_help();
    return usage;
  }
  const auto& first = words.front();
  if (first == "--help" || first == "-h" || first == "help") {
    console.out << general_help();
    return fine;
  }
  if (first == "--version") {
    console.out << fmt::format("oxherd {}\n", version);
    return fine;
  }
  const auto found = std::ranges::find(catalogue, first, [](const Command* command) { return command->name; });
  if (found == catalogue.end()) return unknown_command(console, first);
  return run_one(**found, {words.begin() + 1, words.end()}, console);
}

} // namespace oxherd::daemon::cli
