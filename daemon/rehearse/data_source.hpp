#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/logfile/failure.hpp"
#include "daemon/rehearse/data_notes.hpp"
#include "daemon/rehearse/sample.hpp"

namespace oxherd::daemon::rehearse {

/// Samples taken at one time; the room of the vector is used again for each.
struct SamplesAt {
  WallTime at;
  std::vector<Sample> samples; ///< by channel, ascending
};

/// Recorded samples in the order of the record, read once from start to end in bounded memory.
class DataSource {
public:
  virtual ~DataSource() = default;
  [[nodiscard]] virtual const std::vector<DataChannel>& channels() const = 0;
  /// The next samples, whose time is never before that of the ones before; false at the end.
  [[nodiscard]] virtual tl::expected<bool, logfile::Failure> next(SamplesAt& to) = 0;
  [[nodiscard]] virtual const DataNotes& notes() const = 0;
  /// How much of it has been read, from 0 to 1; empty when that is not known.
  [[nodiscard]] virtual std::optional<double> part() const = 0;
};

/// Out of order by no more than this, a sample was recorded late: devices on different buses answer when they can.
inline constexpr std::chrono::seconds late_at_most{1};

} // namespace oxherd::daemon::rehearse
