// What is announced in a run, and what the records must tell of it.
#include "tests/simulation/drill/run.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/store/chain_findings.hpp"
#include "daemon/store/history.hpp"

namespace oxherd::drill {
namespace {

using alarms::State;

} // namespace

void Run::keep(daemon::Outcome outcome) {
  if (script_.breakage == Breakage::line_lost && !outcome.alarms.empty() && outcome.alarms[0].record.sequence > 3) {
    outcome.alarms.clear();
  }
  daemon::for_each_line(
      outcome, [&](const daemon::AlarmNews& news) { note(news.record); },
      [&](const daemon::AlarmRecord& event) {
        note_line(event);
        note_gas(event);
      });
  if (script_.breakage == Breakage::measurement_lost && outcome_.tally.polls == 100) records_.loses_a_reading = true;
  records_.keep(outcome, now_);
  broker_.tell(outcome, now_);
  note_written();
}

/// In its order, with its number.
void Run::note_line(const daemon::AlarmRecord& record) {
  for (const char c : record.alarm + record.event + std::string{alarms::name_of(record.to)})
    outcome_.digest = mixed(outcome_.digest ^ static_cast<std::uint64_t>(c));
  outcome_.digest = mixed(outcome_.digest ^ static_cast<std::uint64_t>(now_.count()));
  if (record.sequence != announced_to_ + 1)
    complain(fmt::format("line {} of the journal follows line {}", record.sequence, announced_to_));
  announced_to_ = record.sequence;
}

void Run::note(const daemon::AlarmRecord& record) {
  note_line(record);
  if (record.alarm == "output-lost" || record.alarm == "control-tripped")
    note_gas(record);
  else
    note_air(record);
  if (record.alarm != "control-tripped")
    for (auto& gas : gas_)
      if (gas.plan.name == record.room) gas.watch.alarmed(now_);
  if (record.event == "transition-suppressed") return; // beneath what is shown
  auto& told = told_.try_emplace(record.room + "/" + record.alarm, State::normal).first->second;
  if (record.from != told)
    complain(fmt::format("line {} of {} ({}) begins at {}, and it was {}", record.sequence, record.alarm, record.event,
                         alarms::name_of(record.from), alarms::name_of(told)));
  told = record.to;
}

void Run::note_air(const daemon::AlarmRecord& record) {
  for (std::size_t r = 0; r < rooms_.size(); ++r)
    if (settings_.rooms[r].name == record.room) {
      watches_[r].announced(record, air_[r], now_, outcome_.tally);
      for (const auto& complaint : watches_[r].complaints) complain(complaint);
    }
}

void Run::note_written() {
  if (records_.lines_written()) written_to_ = announced_to_;
}

/// At the end, all being well again for a while: the journal alone tells how every alarm stands, and whoever listens
/// to the broker knows it too.
void Run::look_back() {
  if (!site_) return complain("the daemon does not run again although nothing stands in its way");
  records_.work(now_, {wall(), mono()});
  broker_.work(now_);
  if (records_.measurements)
    if (const auto why = records_.measurements->look_at_all(disk_.path()); !why.empty()) complain(why);
  const auto lines = daemon::journal_after(disk_.path(), 0, 1'000'000);
  if (!lines && damaged_) return; // where nobody has written since, so that it has not been set aside
  if (!lines) return complain("the journal cannot be read: " + lines.error().what);
  look_at_chain(static_cast<std::int64_t>(lines->records.size()));
  std::map<std::string, State> read;
  for (const auto& line : lines->records)
    if (line.event != "transition-suppressed") read[line.room + "/" + line.alarm] = line.to;
  for (std::size_t r = 0; r < rooms_.size(); ++r)
    for (const auto& alarm : settings_.rooms[r].alarms) {
      const auto name = settings_.rooms[r].name + "/" + alarm.name;
      const auto is = site_->state_of(r, alarm.name);
      const auto by_journal = read.contains(name) ? read[name] : State::normal;
      if (by_journal != is && !damaged_)
        complain(
            fmt::format("{} is {}, and its journal tells {}", name, alarms::name_of(is), alarms::name_of(by_journal)));
      const auto topic = settings_.rooms[r].name + "/alarms/" + alarm.name;
      const auto found = broker_.received().retained.find(topic);
      if (found == broker_.received().retained.end() || found->second != alarms::name_of(is))
        complain(fmt::format("{} is {}, and the broker was told {}", name, alarms::name_of(is),
                             found == broker_.received().retained.end() ? "nothing" : found->second));
      // Air that recovers slowly may stand near the limit for hours; people come every hour and a half.
      const double stirred_s = std::max(air_[r].near_limit_until_s(), alarms::seconds_of(last_edge_));
      if (alarm.name == "control-tripped") continue; // a stopped gas waits for its person
      if (is != State::normal && alarms::seconds_of(now_) - stirred_s > 3.0 * 3600.0)
        complain(fmt::format("{} is {} although all has been well for long and people have been there", name,
                             alarms::name_of(is)));
    }
  for (const auto& line : lines->records)
    if (!damaged_ && !broker_.received().lines.contains(line.sequence))
      return complain(fmt::format("line {} of the journal never came to the broker", line.sequence));
}

/// The audit trail is as it was written, by the program's own audit.
void Run::look_at_chain(std::int64_t lines) {
  const auto found = daemon::examine_chain(disk_.path(), std::nullopt, [](double) {});
  if (!found && damaged_) return;
  if (!found) return complain("the audit trail cannot be read: " + found.error().what);
  if (found->break_count > 0 && !damaged_) // damage within the text of a line is what the trail is there to show
    complain(fmt::format("the audit trail has {} breaks, the first of line {}: {}", found->break_count,
                         found->breaks.front().number, found->breaks.front().what));
  if (found->journal_lines != lines && !damaged_)
    complain(fmt::format("the audit trail has {} lines, and the journal {}", found->journal_lines, lines));
}

void Run::finish() {
  auto& tally = outcome_.tally;
  ++tally.runs;
  tally.room_s = alarms::seconds_of(now_) * static_cast<double>(rooms_.size());
  tally.gas_room_s = alarms::seconds_of(now_) * static_cast<double>(gas_.size());
  if (const auto& kept = records_.measurements) {
    ++tally.measurements["runs"];
    tally.measurements["rows recorded"] = kept->recorded();
    tally.measurements["rows dropped by a full queue"] = kept->dropped();
    tally.measurements["rows lost with a power cut"] = kept->lost_with_power();
    tally.measurements["rows that waited at an end"] = kept->lost_waiting();
  }
  if (site_) {
    records_.leave();
    broker_.leave();
  }
}

} // namespace oxherd::drill
