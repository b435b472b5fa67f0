#pragma once

#include <string_view>
#include <vector>

#include "daemon/cli/arguments.hpp"
#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// One command: what `--help` says of it, what it takes, and what it does.
struct Command {
  std::string_view name;
  std::string_view line;       ///< one line in the list of commands
  std::string_view about;      ///< a short paragraph in the command's own help
  std::string_view positional; ///< form of the positional arguments in the synopsis; empty: none
  std::string_view examples;   ///< command lines, one a line, of the Larkfield site
  std::vector<Option> (*options)();
  int (*run)(const Arguments& arguments, Console& console); ///< returns an Exit
};

// One file for each; the catalogue is commands.cpp.
extern const Command run_entry;
extern const Command calibrate_entry;
extern const Command check_entry;
extern const Command collect_entry;
extern const Command scan_entry;
extern const Command init_entry;
extern const Command explain_entry;
extern const Command correct_entry;
extern const Command status_entry;
extern const Command alarms_entry;
extern const Command acknowledge_entry;
extern const Command silence_entry;
extern const Command reset_entry;
extern const Command shelve_entry;
extern const Command unshelve_entry;
extern const Command remove_from_service_entry;
extern const Command return_to_service_entry;
extern const Command test_alarm_entry;
extern const Command regime_entry;
extern const Command control_entry;
extern const Command prove_entry;
extern const Command history_entry;
extern const Command alarm_report_entry;
extern const Command audit_entry;
extern const Command backup_entry;
extern const Command leak_test_entry;
extern const Command pull_down_entry;
extern const Command calibrations_entry;
extern const Command certificate_entry;
extern const Command replay_entry;
extern const Command rehearse_entry;
extern const Command restore_entry;
extern const Command notify_entry;
extern const Command user_entry;
extern const Command completion_entry;
extern const Command manual_entry;

} // namespace oxherd::daemon::cli
