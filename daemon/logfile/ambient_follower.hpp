#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/logfile/failure.hpp"
#include "daemon/logfile/fields.hpp"
#include "daemon/logfile/input.hpp"
#include "daemon/logfile/recipe.hpp"

namespace oxherd::daemon::logfile {

/// Values of one quantity by time, the newest so many of them.
class Trace {
public:
  static constexpr std::size_t kept = 1U << 17U; ///< a power of two; 36 h of one value a second

  /// Times must increase.
  void push(FileTime time, double si);
  /// The value nearest in time, the earlier one of two that are equally near; nothing when none is within `gap_ms`.
  [[nodiscard]] std::optional<double> nearest(FileTime time, std::int64_t gap_ms);

private:
  struct Point {
    FileTime time = 0;
    double si = 0.0;
  };
  [[nodiscard]] const Point& at(std::uint64_t i) const { return points_[i % kept]; }

  std::vector<Point> points_;
  std::uint64_t end_ = 0;    ///< points pushed so far
  std::uint64_t cursor_ = 0; ///< where the last one was found: the next is near
};

/// Follows a second file while the first one is read, so that neither is ever held in memory.
class AmbientFollower {
public:
  /// What became of the rows of the second file.
  struct Counts {
    std::uint64_t rows = 0;
    std::uint64_t unreadable = 0; ///< no sure time, or not as many fields as other rows
    std::uint64_t unreadable_line = 0;
    std::uint64_t not_increasing = 0; ///< not later than the one before; left out
    std::uint64_t not_increasing_line = 0;
  };

  [[nodiscard]] static tl::expected<std::unique_ptr<AmbientFollower>, Failure> open(const Recipe& recipe);
  /// The value of a quantity nearest to that time. Times that go back find what is still at hand.
  [[nodiscard]] tl::expected<FieldValue, Failure> value(Quantity quantity, FileTime time);
  /// Reads what is left, so that the counts and the digest are those of the whole file.
  [[nodiscard]] tl::expected<void, Failure> finish();
  [[nodiscard]] const Counts& counts() const { return counts_; }
  [[nodiscard]] FileSource& source() { return *source_; }
  [[nodiscard]] const std::string& name() const { return name_; }

private:
  AmbientFollower(std::string name, std::unique_ptr<FileSource> source);
  [[nodiscard]] tl::expected<void, Failure> start(const Recipe& recipe);
  [[nodiscard]] tl::expected<void, Failure> read_until(FileTime time);
  void take(const Row& row);

  std::string name_;
  std::unique_ptr<FileSource> source_;
  RowReader rows_;
  Layout layout_;
  std::optional<FieldReader> fields_;
  std::int64_t gap_ms_ = 0;
  std::array<Trace, quantity_count> traces_;
  std::optional<FileTime> newest_;
  bool at_end_ = false;
  Row row_;
  Counts counts_;
};

} // namespace oxherd::daemon::logfile
