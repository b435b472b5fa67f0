#include "daemon/cli/alarm_report_text.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

constexpr std::size_t report_width = 100;
/// ISA-18.2 clause 16 judges a month at least (from memory).
constexpr double judged_time_s = 30.0 * 86400.0;

std::size_t count_in(const json& object, std::string_view key) {
  return static_cast<std::size_t>(std::max(0.0, number_of(object, key).value_or(0.0)));
}

std::string count_text(const json& object, std::string_view key) { return fmt::format("{}", count_in(object, key)); }

std::string time_text(const json& object, std::string_view key) {
  const auto seconds = number_of(object, key);
  return seconds ? duration_text(*seconds) : "-";
}

std::string alarm_text(const json& object) { return text_of(object, "room") + '/' + text_of(object, "alarm"); }

std::string by_text(const json& object) {
  const auto author = text_of(object, "author");
  return author.empty() ? "-" : author;
}

std::string state_text(const json& object) {
  auto state = text_of(object, "state");
  std::ranges::replace(state, '_', ' ');
  return state;
}

/// What was looked at, and what nobody watched: that must not pass for quiet.
std::string period_text(const json& result) {
  std::string out = fmt::format("{} to {} ({})\n", local_time_of(result, "from"), local_time_of(result, "to"),
                                time_text(result, "for_s"));
  const auto watched_s = number_of(result, "watched_s").value_or(0.0);
  const auto& gaps = list_of(result, "gaps");
  out += gaps.empty() ? "Readings were recorded all that time.\n"
                      : fmt::format("Readings were recorded for {} of it.\n", duration_text(watched_s));
  for (const auto& gap : gaps)
    out += wrapped(fmt::format("NOT WATCHED {} to {} ({}): Oxherd did not run, or recorded nothing. That is no quiet "
                               "time and counts in no rate.",
                               local_time_of(gap, "from"), local_time_of(gap, "to"), time_text(gap, "for_s")),
                   report_width, 2) +
           '\n';
  if (const auto n = count_in(result, "restarts"); n > 0)
    out += counted(n, "restart") + " found alarms standing; a restart that finds none leaves no record.\n";
  if (const auto n = count_in(result, "clock_set_back"); n > 0)
    out += wrapped(fmt::format("The clock was set back {}: durations and rates around it may be wrong.",
                               counted(n, "time")),
                   report_width, 2) +
           '\n';
  if (watched_s < judged_time_s) out += "ISA-18.2 judges 30 days or more; these figures rest on less.\n";
  return out;
}

std::string load_text(const json& result) {
  const auto& load = object_of(result, "annunciations");
  std::string out = counted(count_in(load, "count"), "annunciation");
  if (const auto n = count_in(load, "re_annunciated"); n > 0)
    out += fmt::format(", {} of them because an acknowledged alarm still stood", n);
  if (const auto n = count_in(load, "in_gaps"); n > 0)
    out += fmt::format("; {} fell into time not watched and are in no rate", n);
  const auto& priorities = object_of(load, "by_priority");
  std::string shares;
  for (const char* priority : {"critical", "high", "medium", "low"})
    if (const auto n = count_in(priorities, priority); n > 0)
      shares += fmt::format("{}{} {}", shares.empty() ? "" : ", ", n, priority);
  if (!shares.empty()) out += ": " + shares;
  return wrapped(out, report_width, 2) + '\n';
}

/// Three digits, never with an exponent.
std::string rate_text(double value) {
  if (value > 0.0 && value < 0.001) return "under 0.001";
  return value >= 100.0 ? fmt::format("{:.0f}", value) : short_number(value, 3);
}

std::string value_text(const json& figure) {
  const auto value = number_of(figure, "value");
  if (!value) return "-";
  return is_true(figure, "share") ? percent_text(value, 1) : rate_text(*value);
}

std::string figures_text(const json& result) {
  Table table;
  table.add({"figure", "value", "recommended", "source", "is it met"});
  for (const auto& f : list_of(result, "figures"))
    table.add({text_of(f, "title"), value_text(f), text_of(f, "target"), text_of(f, "source"), text_of(f, "verdict")});
  return table.text();
}

/// A table of one list under a title; nothing when the list is empty.
template <class Row>
std::string section(std::string_view title, const json& list, std::vector<std::string> head, Row&& row) {
  if (list.empty()) return "";
  Table table{2};
  table.add(std::move(head));
  for (const auto& item : list) table.add(row(item));
  return fmt::format("\n{}\n{}", title, table.text());
}

std::string troublesome_text(const json& result) {
  std::string out = section(
      "Most frequent", list_of(result, "most_frequent"), {"alarm", "annunciations", "share"}, [](const json& f) {
        return std::vector{alarm_text(f), count_text(f, "count"), percent_text(number_of(f, "share"), 1)};
      });
  out += section("Floods: from more than 10 in 10 min until fewer than 5 (EEMUA 191, ISA-18.2)",
                 list_of(result, "floods"), {"from", "to", "for", "annunciations"}, [](const json& f) {
                   return std::vector{local_time_of(f, "from"), local_time_of(f, "to"), time_text(f, "for_s"),
                                      count_text(f, "annunciations")};
                 });
  out += section("Stale: stood longer than 24 h without a break", list_of(result, "stale"),
                 {"alarm", "since", "for", "in the end"}, [](const json& s) {
                   return std::vector{alarm_text(s), local_time_of(s, "since"), time_text(s, "for_s"),
                                      std::string{is_true(s, "stands") ? "stands" : "over"}};
                 });
  const auto times = [](const json& a) { return std::vector{alarm_text(a), count_text(a, "count")}; };
  out += section("Chattering: a third time within 60 s", list_of(result, "chattering"), {"alarm", "times"}, times);
  out += section("Fleeting: gone within 60 s, not acknowledged (the 60 s are a proposal of the project)",
                 list_of(result, "fleeting"), {"alarm", "times"}, times);
  return out;
}

std::string answers_text(const json& result) {
  const auto& answers = object_of(result, "acknowledgement");
  std::string out = "\nAcknowledgement\n";
  if (const auto n = count_in(answers, "count"); n > 0)
    out += fmt::format("  {} acknowledged: median {}, nine in ten within {}, longest {}\n", n,
                       time_text(answers, "median_s"), time_text(answers, "ninth_decile_s"),
                       time_text(answers, "longest_s"));
  else
    out += "  none was acknowledged\n";
  if (const auto n = count_in(answers, "unanswered"); n > 0)
    out += fmt::format("  {} ended without: hidden first, or gone where no acknowledgement is required\n", n);
  for (const auto& owed : list_of(answers, "not_acknowledged"))
    out += fmt::format("  NOT ACKNOWLEDGED at the end: {} since {} ({})\n", alarm_text(owed),
                       local_time_of(owed, "since"), time_text(owed, "for_s"));
  return out;
}

std::string people_text(const json& result) {
  std::string out = section("Hidden", list_of(result, "hidden"), {"how", "by", "times", "hours"}, [](const json& h) {
    return std::vector{state_text(h), by_text(h), count_text(h, "times"),
                       fmt::format("{:.1f}", number_of(h, "for_s").value_or(0.0) / 3600.0)};
  });
  out += section(fmt::format("Tests, which count in no other figure: {}",
                             counted(count_in(result, "test_annunciations"), "annunciation")),
                 list_of(result, "tests"), {"begun by", "times"}, [](const json& t) {
                   return std::vector{by_text(t), count_text(t, "count")};
                 });
  out += section("Refused", list_of(result, "refusals"), {"act", "times"}, [](const json& r) {
    auto act = text_of(r, "act");
    std::ranges::replace(act, '_', ' ');
    return std::vector{act, count_text(r, "count")};
  });
  return out;
}

} // namespace

std::string alarm_report_text(const json& result) {
  return period_text(result) + '\n' + load_text(result) + '\n' + figures_text(result) + troublesome_text(result) +
         answers_text(result) + people_text(result);
}

} // namespace oxherd::daemon::cli
