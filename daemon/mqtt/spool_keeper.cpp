#include "daemon/mqtt/spool_keeper.hpp"

#include <algorithm>
#include <utility>

#include "daemon/log.hpp"
#include "daemon/mqtt/backlog.hpp"
#include "daemon/payloads.hpp"

namespace oxherd::daemon {
namespace {

/// What is in memory alone is lost when the program is killed: this bounds it.
constexpr std::chrono::seconds turn{1};

/// The first trouble of an order is told; the others mostly follow from it.
template <class Result> bool went_well(const Result& result, DiskOutcome& outcome) {
  if (!result && outcome.trouble.empty()) outcome.trouble = result.error().what;
  return result.has_value();
}

} // namespace

void SpoolKeeper::run() {
  for (bool stopping = false;;) {
    const auto order = desk_.order();
    auto outcome = carry_out(order);
    const bool stored = outcome.stored;
    const bool useful = stored || (outcome.rows && !outcome.rows->messages.empty()) ||
                        (outcome.lines && !outcome.lines->messages.empty());
    const bool well = useful || outcome.trouble.empty(); // else trying again at once would be in vain
    note(outcome.trouble);
    const bool more = desk_.report(std::move(outcome)) || order.more_to_store;
    if (stopping && !(stored && order.more_to_store)) return;
    if (!stopping && !(useful && more)) stopping = !wait(well);
  }
}

DiskOutcome SpoolKeeper::carry_out(const DiskOrder& order) {
  DiskOutcome outcome;
  if (went_well(spool_.open(), outcome)) {
    const auto dropped_before = spool_.dropped();
    if (!order.store.empty()) outcome.stored = went_well(spool_.put(order.store), outcome);
    static_cast<void>(went_well(spool_.settle(order.settled_to), outcome));
    outcome.readable = true;
    if (order.rows_after) {
      auto rows = spool_.read(*order.rows_after, Backlog::read_at_once);
      outcome.readable = went_well(rows, outcome);
      if (rows) outcome.rows = std::move(*rows);
    }
    serve_journal(order, outcome);
    outcome.dropped = spool_.dropped() - dropped_before;
  }
  outcome.on_disk = spool_.count();
  return outcome;
}

/// Where nothing was noted yet the journal is told from the end that it had when this began, not with years of it.
void SpoolKeeper::serve_journal(const DiskOrder& order, DiskOutcome& outcome) {
  if (order.lines_settled && order.lines_settled != spool_.cursor())
    static_cast<void>(went_well(spool_.keep_cursor(*order.lines_settled), outcome));
  const auto kept = order.lines_after ? order.lines_after : spool_.cursor();
  auto lines = journal_.after(kept.value_or(told_to_.value_or(0)), order.lines_most);
  if (!went_well(lines, outcome)) return;
  const auto begin = kept ? *kept : std::min(told_to_.value_or(lines->last), lines->last);
  if (!kept) static_cast<void>(went_well(spool_.keep_cursor(begin), outcome));
  outcome.lines.emplace(DiskOutcome::Lines{begin, {}, lines->last});
  for (const auto& record : lines->records)
    outcome.lines->messages.push_back({record.sequence, {}, alarm_record_payload(record)});
}

void SpoolKeeper::note(const std::string& trouble) {
  if (!trouble.empty() && trouble_.empty())
    log::error("mqtt: {}; measurements that wait for the broker stay in memory meanwhile", trouble);
  if (trouble.empty() && !trouble_.empty()) log::warning("mqtt: the queue is on disk again after \"{}\"", trouble_);
  trouble_ = trouble;
}

void SpoolKeeper::poke() {
  const std::lock_guard hold{lock_};
  poked_ = true;
  wake_.notify_one();
}

void SpoolKeeper::stop() {
  const std::lock_guard hold{lock_};
  stopping_ = true;
  wake_.notify_one();
}

bool SpoolKeeper::wait(bool until_poked) {
  std::unique_lock hold{lock_};
  wake_.wait_for(hold, turn, [&] { return stopping_ || (until_poked && poked_); });
  poked_ = false;
  return !stopping_;
}

} // namespace oxherd::daemon
