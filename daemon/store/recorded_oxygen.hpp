#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/reading_basis.hpp"
#include "daemon/records.hpp"
#include "daemon/store/sqlite.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// What an oxygen reading said, as it is stored.
struct OxygenOutputs {
  alarms::Status status = alarms::Status::failure;
  std::optional<double> oxygen, u_oxygen, oxygen_wet, u_oxygen_wet, po2_Pa, u_po2_Pa; ///< SI; fractions dry and wet
  std::string reasons;                                                                ///< "; " between them
  friend bool operator==(const OxygenOutputs&, const OxygenOutputs&) = default;
};

/// One run of re-derivation: who, when and why.
struct Derivation {
  std::int64_t id = 0;
  WallTime at;
  std::string author, reason;
};

/// A recorded oxygen reading with everything it was formed from.
struct RecordedOxygen {
  std::int64_t reading = 0; ///< its row
  WallTime at;
  std::string room, sensor;
  OxygenInputs inputs;
  SharedBasis basis;     ///< as the daemon used it then
  OxygenOutputs outputs; ///< as the daemon recorded them then
  struct Later {
    Derivation by;
    SharedBasis basis;
    OxygenOutputs outputs;
  };
  std::optional<Later> later; ///< the newest derivation that superseded it

  [[nodiscard]] const ReadingBasis& basis_now() const { return later ? *later->basis : *basis; }
  [[nodiscard]] const OxygenOutputs& outputs_now() const { return later ? later->outputs : outputs; }
};

/// The last oxygen reading of a sensor at or before a time, at most a day older. Empty when there is none.
[[nodiscard]] tl::expected<std::optional<RecordedOxygen>, StoreError>
oxygen_at(const std::filesystem::path& state_dir, const std::string& room, const std::string& sensor, WallTime at);

/// One line of JSON, every number to its last bit, and back.
[[nodiscard]] std::string recorded_text(const RecordedOxygen& recorded);
[[nodiscard]] tl::expected<RecordedOxygen, std::string> recorded_from(std::string_view text);

namespace store {

/// Which recorded readings.
struct OxygenRange {
  std::string room, sensor;
  WallTime from, to; ///< both belong to it
};

/// Bases by their row, each read once.
class Bases {
public:
  [[nodiscard]] static tl::expected<Bases, DbError> prepared(Database& database);
  [[nodiscard]] tl::expected<SharedBasis, DbError> at(std::int64_t id);

private:
  explicit Bases(Statement find) : find_{std::move(find)} {}
  Statement find_;
  std::map<std::int64_t, SharedBasis> known_;
};

/// Recorded readings of one sensor in the order of their rows, in pieces.
class OxygenRows {
public:
  [[nodiscard]] static tl::expected<OxygenRows, DbError> prepared(Database& database, const OxygenRange& range);
  /// The next pieces; empty at the end.
  [[nodiscard]] tl::expected<std::vector<RecordedOxygen>, DbError> next(int limit);
  /// Part of the way through, 0 to 1, by row numbers.
  [[nodiscard]] double progress() const;

private:
  OxygenRows(Statement rows, Bases bases, OxygenRange range, std::int64_t first, std::int64_t last)
      : rows_{std::move(rows)}, bases_{std::move(bases)}, range_{std::move(range)}, first_{first}, last_{last},
        after_{first - 1} {}
  Statement rows_;
  Bases bases_;
  OxygenRange range_;
  std::int64_t first_, last_, after_;
};

} // namespace store

} // namespace oxherd::daemon
