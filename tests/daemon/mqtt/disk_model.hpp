#pragma once

#include <algorithm>
#include <cstdint>
#include <map>
#include <optional>
#include <string>

#include "daemon/mqtt/outbox.hpp"

namespace oxherd::daemon::mqtt_test {

/// What the thread of the disk does, in memory: keeps the measurements of an outbox over restarts, and a journal whose
/// lines have consecutive numbers.
class DiskModel {
public:
  explicit DiskModel(std::size_t most) : most_{most} {}

  DiskOutcome carry_out(const DiskOrder& order) {
    DiskOutcome outcome;
    if (fails) {
      outcome.trouble = "disk full";
      outcome.on_disk = rows_.size();
      return outcome;
    }
    outcome.readable = true;
    for (const auto& m : order.store) rows_[m.sequence + base_] = m;
    outcome.stored = !order.store.empty();
    for (; rows_.size() > most_; ++outcome.dropped) rows_.erase(rows_.begin());
    const auto settled = key(order.settled_to);
    while (!rows_.empty() && rows_.begin()->first <= settled) rows_.erase(rows_.begin());
    if (order.rows_after) outcome.rows = read(*order.rows_after);
    if (order.lines_settled) cursor = order.lines_settled;
    if (!cursor) cursor = lines;
    outcome.lines = DiskOutcome::Lines{order.lines_after.value_or(*cursor), {}, lines};
    for (auto line = outcome.lines->after + 1; line <= lines && line <= outcome.lines->after + order.lines_most; ++line)
      outcome.lines->messages.push_back({line, {}, std::to_string(line)});
    outcome.on_disk = rows_.size();
    dropped += outcome.dropped;
    return outcome;
  }
  /// The program ends; the next one finds what is here.
  void restart() { base_ = rows_.empty() ? 0 : rows_.rbegin()->first; }
  [[nodiscard]] std::size_t size() const { return rows_.size(); }

  bool fails = false;
  std::int64_t lines = 0; ///< written to the journal
  std::optional<std::int64_t> cursor;
  std::uint64_t dropped = 0;

private:
  [[nodiscard]] std::int64_t key(std::int64_t sequence) const {
    const auto least = std::numeric_limits<std::int64_t>::min();
    return sequence == least ? least : sequence + base_;
  }
  [[nodiscard]] DiskOutcome::Rows read(std::int64_t after) const {
    DiskOutcome::Rows found{after, {}, true};
    for (auto row = rows_.upper_bound(key(after)); row != rows_.end(); ++row) {
      if (found.messages.size() == 3) { // few, so that reading on is part of the game
        found.all = false;
        break;
      }
      found.messages.push_back({row->first - base_, row->second.topic, row->second.payload});
    }
    return found;
  }
  std::size_t most_;
  std::map<std::int64_t, QueuedMessage> rows_;
  std::int64_t base_ = 0;
};

} // namespace oxherd::daemon::mqtt_test
