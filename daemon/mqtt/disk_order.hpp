#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace oxherd::daemon {

/// A message as it waits, with its place in the order of entry. Measurements count from 1 at the start of the program;
/// what earlier runs left on disk has numbers of 0 and below. Lines of the journal have the journal's own.
struct QueuedMessage {
  std::int64_t sequence = 0;
  std::string topic, payload;
};

/// What the outbox wants of the disk next. Carried out in this order.
struct DiskOrder {
  std::vector<QueuedMessage> store;          ///< measurements, ascending
  bool more_to_store = false;                ///< behind these
  std::int64_t settled_to = 0;               ///< measurements up to here are done with
  std::optional<std::int64_t> rows_after;    ///< measurements behind this one are wanted back; empty: none are
  std::optional<std::int64_t> lines_settled; ///< the broker has the journal up to here; empty: not known yet
  std::optional<std::int64_t> lines_after;   ///< the journal is wanted from here; empty: from what was kept last
  int lines_most = 0;                        ///< so many lines of it; 0: only how far it goes
};

/// What came of it.
struct DiskOutcome {
  struct Rows {
    std::int64_t after = 0; ///< as ordered
    std::vector<QueuedMessage> messages;
    bool all = false; ///< nothing is behind them
  };
  struct Lines {
    std::int64_t after = 0;
    std::vector<QueuedMessage> messages;
    std::int64_t last = 0; ///< of the whole journal
  };
  bool stored = false;        ///< what was to be stored is on disk
  bool readable = false;      ///< so is what was stored before, as far as was tried
  std::optional<Rows> rows;   ///< empty: not wanted, or they cannot be read
  std::optional<Lines> lines; ///< empty: the journal cannot be read
  std::uint64_t on_disk = 0;  ///< measurements
  std::uint64_t dropped = 0;  ///< of those on disk, this time
  std::string trouble;        ///< why not everything was done, in words; empty when all is well
};

} // namespace oxherd::daemon
