#include "daemon/cli/rehearse_text.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/room/persons_unit.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using alarms::seconds_of;
using rehearse::AlarmFigures;
using rehearse::Occurrence;
using rehearse::Pair;
using rehearse::Rehearsed;
using rehearse::RuleOutcome;
using rehearse::Troubles;

constexpr std::size_t rehearsal_width = 100;
constexpr std::size_t differences_listed = 20; ///< of one kind; --json has all

std::string line_of(std::string_view text) { return wrapped(text, rehearsal_width, 2) + '\n'; }

std::string words_in(std::string_view state) {
  std::string words{state};
  std::ranges::replace(words, '_', ' ');
  return words;
}

/// A difference in time to the tenth of a second, which duration_text would round away: "34 s", "0.5 s".
std::string difference_text(double seconds) {
  const double s = std::abs(seconds);
  return s < 60.0 ? short_number(s, 3) + " s" : duration_text(s);
}

std::string troubles_text(const Troubles& troubles, std::string_view singular, std::string_view what) {
  if (troubles.count == 0) return "";
  return line_of(
      fmt::format("{} {} (the first: {})", counted(troubles.count, singular), what, printable(troubles.first)));
}

std::string channels_text(const Rehearsed& done) {
  std::vector<std::string> names;
  for (const auto& channel : done.channels)
    names.push_back(fmt::format("{}/{} ({}, every {})", channel.room, channel.sensor, config::name_of(channel.gas),
                                difference_text(seconds_of(channel.every))));
  return line_of(fmt::format("Channels: {}.", fmt::join(names, ", ")));
}

const config::AlarmSettings* settings_of(const RuleOutcome& rules, const AlarmRecord& record) {
  for (const auto& room : rules.rooms)
    for (const auto& alarm : room.alarms)
      if (room.name == record.room && alarm.name == record.alarm) return &alarm;
  return nullptr;
}

std::string event_text(const AlarmRecord& record) {
  if (record.from == record.to) return words_in(record.event);
  return fmt::format("{} -> {}", words_in(alarms::name_of(record.from)), words_in(alarms::name_of(record.to)));
}

std::vector<std::string> journal_row(const RuleOutcome& rules, const AlarmRecord& record) {
  std::string value, limit;
  if (const auto* settings = settings_of(rules, record); settings != nullptr) {
    auto unit = persons_unit(*settings);
    unit.named = true;
    if (record.value) value = in_persons_unit(unit, *record.value);
    if (record.value && record.expanded) value += " ± " + in_persons_unit(unit, *record.expanded);
    if (record.limit) limit = as_a_person_wrote_it(unit, *record.limit);
  }
  return {rfc3339(record.at),
          rfc3339_local(record.at),
          record.room + '/' + record.alarm,
          event_text(record),
          value,
          limit,
          words_in(record.cause)};
}

std::string time_cell(const AlarmFigures& f, bool first) {
  if (f.occurrences.empty()) return "-";
  return rfc3339_local(first ? f.occurrences.front().time.from : f.occurrences.back().time.from);
}

std::string share_text(const AlarmFigures& f, const Rehearsed& done) {
  const auto whole = seconds_of(done.period.to - done.period.from);
  return whole > 0.0 ? percent_text(seconds_of(f.in_alarm) / whole, 2) : "-";
}

std::string name_text(const AlarmFigures& f) { return f.name.room + '/' + f.name.alarm; }

std::string figures_table(const RuleOutcome& rules, const Rehearsed& done) {
  Table table{2};
  table.add({"alarm", "annunciations", "again", "fleeting", "chattering", "in alarm", "share", "longest",
             "most in 10 min", "first", "last"});
  for (const auto& f : rules.figures)
    table.add({name_text(f), fmt::format("{}", f.occurrences.size()), fmt::format("{}", f.re_annunciations),
               fmt::format("{}", f.fleeting), fmt::format("{}", f.chatterings), duration_text(seconds_of(f.in_alarm)),
               share_text(f, done), duration_text(seconds_of(f.longest)), fmt::format("{}", f.most_in_10_min),
               time_cell(f, true), time_cell(f, false)});
  return table.text();
}

std::string standing_text(const RuleOutcome& rules) {
  std::string out;
  for (const auto& f : rules.figures)
    if (!f.occurrences.empty() && !f.occurrences.back().ended)
      out += line_of(fmt::format("  {} still stood at the end of the data.", name_text(f)));
  return out;
}

/// "3 / 1 (2 fewer)": with these rules, against those, and the difference.
std::string both_counts(std::size_t first, std::size_t second) {
  const auto more = first > second ? first - second : second - first;
  if (more == 0) return fmt::format("{} / {}", first, second);
  return fmt::format("{} / {} ({} {})", first, second, more, second > first ? "more" : "fewer");
}

std::string both_times(std::chrono::milliseconds first, std::chrono::milliseconds second) {
  const double a = seconds_of(first), b = seconds_of(second);
  const auto both = fmt::format("{} / {}", duration_text(a), duration_text(b));
  if (first == second) return both;
  return fmt::format("{} ({} {})", both, difference_text(b - a), b > a ? "more" : "less");
}

const AlarmFigures* figures_named(const RuleOutcome& rules, const rehearse::AlarmName& name) {
  for (const auto& f : rules.figures)
    if (f.name == name) return &f;
  return nullptr;
}

std::string comparison_table(const Rehearsed& done) {
  Table table{2};
  table.add({"alarm", "annunciations", "fleeting", "chattering", "in alarm", "most in 10 min"});
  std::set<rehearse::AlarmName> told;
  for (const auto& rules : done.rules)
    for (const auto& one : rules.figures) {
      if (!told.insert(one.name).second) continue;
      const auto* a = figures_named(done.rules[0], one.name);
      const auto* b = figures_named(done.rules[1], one.name);
      if (a == nullptr || b == nullptr) {
        table.add({name_text(one), fmt::format("{} (only in {})", one.occurrences.size(), printable(rules.file))});
        continue;
      }
      table.add({name_text(one), both_counts(a->occurrences.size(), b->occurrences.size()),
                 both_counts(a->fleeting, b->fleeting), both_counts(a->chatterings, b->chatterings),
                 both_times(a->in_alarm, b->in_alarm), both_counts(a->most_in_10_min, b->most_in_10_min)});
    }
  return table.text();
}

std::string pair_line(const Pair& pair, const Rehearsed& done) {
  const auto name = pair.name.room + '/' + pair.name.alarm;
  const auto& against = done.rules[1].file;
  if (pair.first && pair.second) {
    const auto later = seconds_of(pair.second->time.from - pair.first->time.from);
    if (later == 0.0) return "";
    return fmt::format("  {}, {}: with {} it would have come {} {}", name, rfc3339_local(pair.first->time.from),
                       printable(against), difference_text(later), later > 0.0 ? "later" : "earlier");
  }
  const auto& only = pair.first ? *pair.first : *pair.second;
  return fmt::format("  {}, {} for {}: only with {}", name, rfc3339_local(only.time.from),
                     duration_text(seconds_of(only.time.to - only.time.from)),
                     printable(done.rules[pair.first ? 0 : 1].file));
}

std::string pairs_text(const Rehearsed& done) {
  std::string out;
  std::size_t same = 0, listed = 0, differ = 0;
  for (const auto& pair : done.pairs) {
    const auto line = pair_line(pair, done);
    if (line.empty()) {
      ++same;
      continue;
    }
    ++differ;
    if (listed < differences_listed) out += line + '\n';
    if (listed < differences_listed) ++listed;
  }
  if (differ > listed) out += fmt::format("  and {} more; --json has all\n", differ - listed);
  if (same > 0) out += fmt::format("  {} at the same time with both\n", counted(same, "annunciation"));
  return out.empty() ? "  no alarm comes with either\n" : out;
}

} // namespace

std::string rehearsal_head_text(const Rehearsed& done) {
  const auto& data = done.data;
  std::string out = fmt::format("Rehearsed: {}\n", printable(done.rules[0].file));
  if (done.rules.size() == 2) out += fmt::format("Against:   {}\n", printable(done.rules[1].file));
  out += fmt::format("Over:      {}, {} to {} ({})\n", printable(data.source), rfc3339_local(done.period.from),
                     rfc3339_local(done.period.to), duration_text(seconds_of(done.period.to - done.period.from)));
  out += channels_text(done);
  out += line_of(fmt::format("{} in {}, {} of them bad. A channel is bad, too, when its last sample is older than 3 "
                             "periods and 5 s.",
                             counted(done.samples, "sample"), counted(data.rows, "row"), data.bad_samples));
  out += troubles_text(data.not_numbers, "value", "could not be used");
  out += troubles_text(data.unreadable, "row", "LEFT OUT: not readable");
  out += troubles_text(data.backwards, "row", "LEFT OUT: back in time, as after a clock that was set back");
  if (data.moved > 0)
    out += line_of(
        fmt::format("{} up to 1 s out of order, taken at the time of the row before.", counted(data.moved, "row")));
  for (const auto& said : data.said) out += line_of("Note: " + printable(said) + ".");
  for (const auto& rules : done.rules)
    for (const auto& said : rules.said) out += line_of("Note: " + printable(said) + ".");
  out += line_of(done.conduct.regime
                     ? fmt::format("Rooms: {} all the time, doors closed (--regime).", name_of(*done.conduct.regime))
                     : std::string{"Rooms: each in the regime of its settings all the time, doors "
                                   "closed (--regime)."});
  out += done.conduct.acknowledge_after
             ? line_of(fmt::format("People: each alarm is acknowledged {} after it came, a latched one reset once it "
                                   "may be (--acknowledge-after).",
                                   duration_text(seconds_of(*done.conduct.acknowledge_after))))
             : line_of("People: nobody acknowledges or resets anything (--acknowledge-after).");
  return out;
}

std::string rehearsal_journal_text(const Rehearsed& done) {
  std::string out;
  for (const auto& rules : done.rules) {
    out += fmt::format("\nJournal with {}\n", printable(rules.file));
    if (rules.journal.empty()) {
      out += "  no line: no alarm would have come\n";
      continue;
    }
    Table table{2};
    table.add({"UTC", "local", "alarm", "transition", "value (k = 2)", "limit", "cause"});
    for (const auto& record : rules.journal) table.add(journal_row(rules, record));
    out += table.text();
  }
  return out;
}

std::string rehearsal_summary_text(const Rehearsed& done) {
  std::string out;
  for (const auto& rules : done.rules)
    out += fmt::format("\nAlarms with {}\n", printable(rules.file)) + figures_table(rules, done) + standing_text(rules);
  if (done.rules.size() != 2) return out;
  out += fmt::format("\nWith {} / with {}\n", printable(done.rules[0].file), printable(done.rules[1].file));
  return out + comparison_table(done) + "\nWhat differs\n" + pairs_text(done);
}

} // namespace oxherd::daemon::cli
