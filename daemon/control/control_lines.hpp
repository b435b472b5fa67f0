#pragma once

#include <string>
#include <vector>

#include "config/settings.hpp"
#include "control/actuator.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// The name under which the journal keeps what becomes of an actuator: no alarm can be called that.
[[nodiscard]] std::string actuator_journal_name(const std::string& output);
/// Likewise of the program of a loop.
[[nodiscard]] std::string loop_journal_name(const std::string& loop);

/// Who, and why, in a line about an actuator or a loop; nobody: the program by itself.
struct ControlCause {
  std::string event; ///< "start", "tripped", "hold-refused" ...
  std::string author, comment;
  std::string text; ///< the line, for a person
};
/// `sequence` is still 0.
[[nodiscard]] AlarmRecord control_record(const std::string& room, const std::string& journal_name,
                                         const ControlCause& cause, WallTime at);

/// What the journal says of an actuator when the daemon starts: what had tripped has still, what a person had started
/// or held has ended with the program that knew of it.
struct ControlRemembered {
  std::string output;
  std::optional<std::string> tripped; ///< after what
  bool started = false, held = false;
};
/// @param lines  of the journal, oldest first; others than those about actuators change nothing
[[nodiscard]] std::vector<ControlRemembered> remembered_control(const std::vector<AlarmRecord>& lines,
                                                                const config::Settings& settings);

} // namespace oxherd::daemon
