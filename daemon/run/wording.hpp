#pragma once

#include <functional>
#include <map>
#include <string>

#include <tl/expected.hpp>

#include "daemon/run/cells_answer.hpp"
#include "daemon/store/recorded_oxygen.hpp"

namespace oxherd::daemon {

/// Answers in the JSON that commands print with --json, for those who ask the daemon itself. Given from outside,
/// because the words are those of the command line.
struct Wording {
  std::function<std::string(RecordedOxygen)> explain_recorded;
  /// Of values typed by their names on the command line; the error names everything that is missing or impossible.
  std::function<tl::expected<std::string, std::string>(const std::map<std::string, std::string>&)> explain_typed;
  std::function<std::string(const CellsAndRecords&, WallTime now)> all_cells;
  /// By "room/sensor" or a serial number; the error says that there is none.
  std::function<tl::expected<std::string, std::string>(const CellsAndRecords&, const std::string&, WallTime now)>
      one_cell;
};

} // namespace oxherd::daemon
