#include "daemon/rehearse/payload.hpp"

#include <algorithm>

#include "alarms/texts.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using alarms::seconds_of;

std::string channel_json(const DataChannel& channel) {
  return JsonObject{}
      .text("room", channel.room)
      .text("sensor", channel.sensor)
      .text("measures", config::name_of(channel.gas))
      .number("every_s", seconds_of(channel.every))
      .str();
}

std::string troubles_json(const Troubles& troubles) {
  return JsonObject{}.integer("count", static_cast<std::int64_t>(troubles.count)).text("first", troubles.first).str();
}

std::string data_json(const Rehearsed& done) {
  const auto& data = done.data;
  return JsonObject{}
      .text("source", data.source)
      .integer("rows", static_cast<std::int64_t>(data.rows))
      .integer("samples", static_cast<std::int64_t>(done.samples))
      .integer("bad_samples", static_cast<std::int64_t>(data.bad_samples))
      .json("not_numbers", troubles_json(data.not_numbers))
      .json("unreadable_rows", troubles_json(data.unreadable))
      .json("rows_back_in_time", troubles_json(data.backwards))
      .integer("rows_moved", static_cast<std::int64_t>(data.moved))
      .json("channels", json_array_of(done.channels, channel_json))
      .json("assumed", json_array_of(data.said, json_string))
      .str();
}

std::string record_json(const AlarmRecord& record) {
  return JsonObject{}
      .text("at", rfc3339(record.at))
      .integer("sequence", record.sequence)
      .text("room", record.room)
      .text("alarm", record.alarm)
      .text("event", record.event)
      .text("from", alarms::name_of(record.from))
      .text("to", alarms::name_of(record.to))
      .text("cause", record.cause)
      .text("author", record.author)
      .text("priority", alarms::name_of(record.priority))
      .number("value", record.value)
      .number("expanded", record.expanded)
      .number("limit", record.limit)
      .text("unit", record.unit)
      .text("text", record.text)
      .str();
}

std::string occurrence_json(const Occurrence& one) {
  return JsonObject{}
      .text("from", rfc3339(one.time.from))
      .text("to", rfc3339(one.time.to))
      .flag("ended", one.ended)
      .str();
}

std::string figures_json(const AlarmFigures& f, Stretch period) {
  const auto length_s = seconds_of(period.to - period.from);
  JsonObject out;
  out.text("room", f.name.room)
      .text("alarm", f.name.alarm)
      .integer("annunciations", static_cast<std::int64_t>(f.occurrences.size()))
      .integer("re_annunciations", static_cast<std::int64_t>(f.re_annunciations))
      .integer("fleeting", static_cast<std::int64_t>(f.fleeting))
      .integer("chatterings", static_cast<std::int64_t>(f.chatterings))
      .number("in_alarm_s", seconds_of(f.in_alarm))
      .number("share_in_alarm", length_s > 0.0 ? std::optional{seconds_of(f.in_alarm) / length_s} : std::nullopt)
      .number("longest_s", seconds_of(f.longest))
      .integer("most_in_10_min", static_cast<std::int64_t>(f.most_in_10_min))
      .json("occurrences", json_array_of(f.occurrences, occurrence_json));
  return out.str();
}

std::string rules_json(const RuleOutcome& rules, Stretch period) {
  return JsonObject{}
      .text("file", rules.file)
      .json("assumed", json_array_of(rules.said, json_string))
      .json("alarms", json_array_of(rules.figures, [&](const auto& f) { return figures_json(f, period); }))
      .json("journal", json_array_of(rules.journal, record_json))
      .str();
}

std::string pair_json(const Pair& pair) {
  const auto side = [](const std::optional<Occurrence>& one) { return one ? occurrence_json(*one) : "null"; };
  std::optional<double> later_s;
  if (pair.first && pair.second) later_s = seconds_of(pair.second->time.from - pair.first->time.from);
  return JsonObject{}
      .text("room", pair.name.room)
      .text("alarm", pair.name.alarm)
      .json("rules", side(pair.first))
      .json("against", side(pair.second))
      .number("against_later_s", later_s)
      .str();
}

} // namespace

std::string rehearsal_payload(const Rehearsed& done) {
  JsonObject out;
  out.text("from", rfc3339(done.period.from)).text("to", rfc3339(done.period.to));
  out.number("for_s", seconds_of(done.period.to - done.period.from));
  out.number("acknowledge_after_s", done.conduct.acknowledge_after
                                        ? std::optional{seconds_of(*done.conduct.acknowledge_after)}
                                        : std::nullopt);
  out.json("regime", done.conduct.regime ? json_string(name_of(*done.conduct.regime)) : "null");
  out.json("data", data_json(done));
  out.json("rules", json_array_of(done.rules, [&](const auto& rules) { return rules_json(rules, done.period); }));
  if (done.rules.size() == 2) out.json("occurrences", json_array_of(done.pairs, pair_json));
  out.text("caution", alarms::caution_long());
  return out.str();
}

} // namespace oxherd::daemon::rehearse
