#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace oxherd::daemon::rehearse {

/// How often something was wrong in the data, and where first.
struct Troubles {
  std::uint64_t count = 0;
  std::string first; ///< "line 812: 2026-03-02T06:59:00.000Z after 2026-03-02T07:00:00.000Z"
};

/// What a person must know of the data that alarms were rehearsed over.
struct DataNotes {
  std::string source; ///< file name, or the state directory
  std::uint64_t rows = 0;
  std::uint64_t bad_samples = 0; ///< empty, not a number, outside any room's span, or marked bad
  Troubles not_numbers;          ///< of these: text where a number should be, or a number no room can have
  Troubles unreadable;           ///< rows left out: no time in them, or another number of fields
  Troubles backwards;            ///< rows left out: their time is before that of a row before them
  std::uint64_t moved = 0; ///< rows up to a second early, taken at the time of the row before: devices answer late
  std::vector<std::string> said; ///< what was assumed, in sentences
};

} // namespace oxherd::daemon::rehearse
