#pragma once

#include <memory>
#include <optional>

#include "config/zone_rules.hpp"
#include "daemon/logfile/time_format.hpp"

namespace oxherd::daemon::logfile {

/// Finds the instants of local times that a file states one after the other.
///
/// A time that the clocks skip in spring has no instant. Where the clocks are put back, the times of an hour (or of
/// however much they are put back) come twice. Such a row is believed to be one of the two instants only when that one
/// alone follows from the row before, which it does
///   - at the same offset: later by at most as much as the clocks are put back;
///   - past the change: later by at most half as much, so that the clock must be seen to step back by at least the
///     other half, and no row out of order is taken for a change;
///   - in either case: later by just the step between the two rows before, as in a file of one row an hour;
///   - as the very instant of the row before, when it repeats its time in a file whose rows stand close together.
/// Every other one is doubtful. The rules are the project's own.
class ZoneClock {
public:
  explicit ZoneClock(std::shared_ptr<const config::ZoneRules> zone) : zone_{std::move(zone)} {}

  struct Resolved {
    std::optional<FileTime> time; ///< none: the clocks skipped this time
    bool doubtful = false;        ///< it may be the other one; `time` is the one nearer to the row before
  };
  /// @param local  milliseconds that the clock of the file shows since its 1970-01-01T00:00:00
  [[nodiscard]] Resolved resolve(FileTime local);
  /// Tells of a row that states its own offset, so that the next one can follow from it.
  void saw(FileTime time);

private:
  /// The row that the next one is compared with.
  struct Anchor {
    FileTime time = 0;
    std::int64_t offset_s = 0;
    bool sure = true;
  };
  [[nodiscard]] Resolved resolve_twice(FileTime local, config::ZonedInstant earlier, config::ZonedInstant later);
  [[nodiscard]] bool follows(const Anchor& candidate, FileTime put_back) const;
  FileTime take(const Anchor& row);

  std::shared_ptr<const config::ZoneRules> zone_;
  std::optional<Anchor> before_;
  std::optional<FileTime> step_; ///< between the last two rows that are sure
  // Local times for which one offset is the only one: nearly all rows of a file.
  FileTime plain_begin_ = 0;
  FileTime plain_end_ = 0;
  std::int64_t plain_offset_s_ = 0;
};

} // namespace oxherd::daemon::logfile
