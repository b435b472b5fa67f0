#include "daemon/alarm_report/payload.hpp"

#include "alarms/texts.hpp"
#include "daemon/alarm_report/figures.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::alarm_report {
namespace {

template <class Items, class F> std::string list_in_json(const Items& items, F&& element) {
  std::vector<std::string> elements;
  elements.reserve(std::size(items));
  for (const auto& item : items) elements.push_back(element(item));
  return json_array(elements);
}

double in_seconds(std::chrono::milliseconds time) { return std::chrono::duration<double>{time}.count(); }

std::int64_t whole(std::size_t n) { return static_cast<std::int64_t>(n); }

JsonObject named(const AlarmName& name) {
  JsonObject object;
  object.text("room", name.room).text("alarm", name.alarm);
  return object;
}

JsonObject timed(const Stretch& time) {
  JsonObject object;
  object.text("from", rfc3339(time.from)).text("to", rfc3339(time.to)).number("for_s", in_seconds(time.to - time.from));
  return object;
}

std::string figure_object(const Figure& f) {
  return JsonObject{}
      .text("key", f.key)
      .text("title", f.title)
      .number("value", f.value)
      .flag("share", f.is_share)
      .text("target", f.target)
      .text("source", f.source)
      .text("verdict", name_of(f.verdict))
      .str();
}

std::string annunciations_object(const Performance& p) {
  JsonObject priorities;
  for (const auto priority :
       {alarms::Priority::critical, alarms::Priority::high, alarms::Priority::medium, alarms::Priority::low})
    priorities.integer(alarms::name_of(priority), whole(p.by_priority[static_cast<std::size_t>(priority)]));
  return JsonObject{}
      .integer("count", whole(p.annunciations))
      .integer("re_annunciated", whole(p.again))
      .integer("in_gaps", whole(p.in_gaps))
      .json("by_priority", priorities.str())
      .str();
}

std::string answers_object(const Performance& p) {
  const auto time = [&](std::chrono::milliseconds t) {
    return p.answers.count > 0 ? std::optional{in_seconds(t)} : std::nullopt;
  };
  return JsonObject{}
      .integer("count", whole(p.answers.count))
      .number("median_s", time(p.answers.median))
      .number("ninth_decile_s", time(p.answers.ninth_decile))
      .number("longest_s", time(p.answers.longest))
      .integer("unanswered", whole(p.unanswered))
      .json(
          "not_acknowledged",
          list_in_json(
              p.owed,
              [&](const Beginning& b) {
                return named(b.name).text("since", rfc3339(b.at)).number("for_s", in_seconds(p.period.to - b.at)).str();
              }))
      .str();
}

std::string frequent_list(const Performance& p) {
  return list_in_json(p.most_frequent, [&](const Frequent& f) {
    return named(f.name)
        .integer("count", whole(f.count))
        .number("share", static_cast<double>(f.count) / static_cast<double>(p.annunciations))
        .str();
  });
}

std::string stale_list(const Performance& p) {
  return list_in_json(p.stale, [](const Stand& s) {
    return named(s.name)
        .text("since", rfc3339(s.time.from))
        .number("for_s", in_seconds(s.time.to - s.time.from))
        .flag("stands", !s.ended)
        .str();
  });
}

std::string hidden_list(const Performance& p) {
  return list_in_json(p.hidden, [](const auto& entry) {
    return JsonObject{}
        .text("state", alarms::name_of(entry.first.first))
        .text("author", entry.first.second)
        .integer("times", whole(entry.second.times))
        .number("for_s", in_seconds(entry.second.time))
        .str();
  });
}

std::string counts_list(const std::map<std::string, std::size_t>& counts, std::string_view key) {
  return list_in_json(counts, [&](const auto& entry) {
    return JsonObject{}.text(key, entry.first).integer("count", whole(entry.second)).str();
  });
}

/// How often each alarm is among them.
template <class Items> std::string alarms_list(const Items& items) {
  std::map<AlarmName, std::size_t> counts;
  for (const auto& item : items) ++counts[item.name];
  return list_in_json(counts,
                      [](const auto& entry) { return named(entry.first).integer("count", whole(entry.second)).str(); });
}

} // namespace

std::string report_payload(const Performance& p) {
  return timed(p.period)
      .number("watched_s", in_seconds(p.watched))
      .json("gaps", list_in_json(p.gaps, [](const Stretch& gap) { return timed(gap).str(); }))
      .integer("restarts", whole(p.restarts))
      .integer("clock_set_back", whole(p.set_back))
      .json("annunciations", annunciations_object(p))
      .json("figures", list_in_json(figures_of(p), figure_object))
      .json("floods", list_in_json(p.floods,
                                   [](const Flood& f) {
                                     return timed(f.time).integer("annunciations", whole(f.annunciations)).str();
                                   }))
      .json("most_frequent", frequent_list(p))
      .json("stale", stale_list(p))
      .json("chattering", alarms_list(p.chatterings))
      .json("fleeting", alarms_list(p.fleeting))
      .json("acknowledgement", answers_object(p))
      .json("hidden", hidden_list(p))
      .json("tests", counts_list(p.tests, "author"))
      .integer("test_annunciations", whole(p.test_annunciations))
      .json("refusals", counts_list(p.refusals, "act"))
      .text("caution", alarms::caution_short())
      .str();
}

} // namespace oxherd::daemon::alarm_report
