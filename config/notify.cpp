#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/hours.hpp"
#include "config/nearest.hpp"
#include "config/notify_sections.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using std::chrono::milliseconds;

constexpr QuantityRule step_span{Dimension::duration, 0.0, 7.0 * 86400.0, "0 s to 7 d"};
constexpr QuantityRule repeat_span{Dimension::duration, 60.0, 86400.0, "1 min to 1 d"};
constexpr QuantityRule test_span{Dimension::duration, 86400.0, 92.0 * 86400.0, "1 d to 92 d"};
constexpr QuantityRule answer_span{Dimension::duration, 60.0, 7.0 * 86400.0, "1 min to 7 d"};
constexpr QuantityRule merge_span{Dimension::duration, 1.0, 600.0, "1 s to 10 min"};

/// "2026-12-24" or "2026-12-24 18:00", also as a TOML date. A day alone is meant whole: as an end it is its last
/// minute.
std::optional<LocalMinutes> read_date(TableReader& in, std::string_view key, bool is_end) {
  const Node* node = in.node(key);
  if (node == nullptr) return std::nullopt;
  const LocalMinutes whole = is_end ? minutes_of_day : 0;
  const auto minutes_of = [](std::chrono::sys_days day) {
    return std::chrono::duration_cast<std::chrono::minutes>(day.time_since_epoch()).count();
  };
  if (const auto* moment = std::get_if<Moment>(&node->value); moment != nullptr && moment->day)
    return minutes_of(*moment->day) + whole;
  if (const auto* text = std::get_if<std::string>(&node->value)) {
    const std::string_view t = *text;
    const bool dated = t.size() >= 10 && t[4] == '-' && t[7] == '-';
    const auto year = dated ? digits(t.substr(0, 4)) : std::nullopt;
    const auto month = dated ? digits(t.substr(5, 2)) : std::nullopt;
    const auto day = dated ? digits(t.substr(8, 2)) : std::nullopt;
    if (year && month && day) {
      const std::chrono::year_month_day date{std::chrono::year{*year},
                                             std::chrono::month(static_cast<unsigned>(*month)),
                                             std::chrono::day(static_cast<unsigned>(*day))};
      const bool timed = t.size() == 16 && (t[10] == ' ' || t[10] == 'T');
      const auto minute = timed ? time_of_day(t.substr(11)) : std::optional{static_cast<int>(whole)};
      if (date.ok() && minute && (timed || t.size() == 10)) return minutes_of(std::chrono::sys_days{date}) + *minute;
    }
  }
  in.error(key,
           fmt::format("{} is no local date; write for example \"2026-12-24\" or \"2026-12-24 18:00\"", shown(*node)));
  return std::nullopt;
}

Rota read_rota(const std::string& name, TableReader in, const TimeZone& zone) {
  Rota rota;
  rota.name = name;
  rota.zone = read_time_zone(in, zone);
  rota.otherwise = in.text("otherwise");
  for (auto& one : in.tables("weekly")) {
    one.require("contact", "\"okafor\"");
    Shift shift{one.text("contact").value_or(""), read_hours(one, {})};
    one.finish();
    rota.weekly.push_back(std::move(shift));
  }
  for (auto& one : in.tables("dates")) {
    one.require("contact", "\"okafor\"");
    one.require("from", "2026-12-24");
    one.require("to", "2026-12-26");
    DatedShift shift{one.text("contact").value_or(""), 0, 0};
    const auto from = read_date(one, "from", false);
    const auto to = read_date(one, "to", true);
    one.finish();
    if (!from || !to) continue;
    if (*to <= *from) one.error("to", "is not after from");
    shift.from = *from;
    shift.to = *to;
    rota.dated.push_back(std::move(shift));
  }
  if (rota.weekly.empty() && rota.dated.empty() && !in.has("weekly") && !in.has("dates"))
    in.error("weekly", "missing; a rota needs weekly or dates");
  in.finish();
  return rota;
}

Contact read_contact(const std::string& name, TableReader in, const TimeZone& zone) {
  Contact contact;
  contact.name = name;
  contact.person = in.text("name").value_or(name);
  const auto is_control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; };
  if (std::any_of(contact.person.begin(), contact.person.end(), is_control))
    in.error("name", "control characters cannot stand in a name");
  in.require("route", "\"mail\"");
  contact.routes = in.texts("route");
  contact.address = in.text("address").value_or("");
  contact.zone = read_time_zone(in, zone);
  if (name == "everyone") in.error("name", "no contact can be called \"everyone\": that stands for all of them");
  if (auto quiet = in.table("quiet_hours")) {
    quiet->require("from", "\"22:00\"");
    quiet->require("to", "\"07:00\"");
    contact.quiet_hours = read_hours(*quiet, {});
    quiet->finish();
  }
  in.finish();
  return contact;
}

Ladder read_ladder(TableReader in, Ladder ladder) {
  ladder.working_hours = in.boolean("working_hours").value_or(ladder.working_hours);
  ladder.daily_digest = in.boolean("daily_digest").value_or(ladder.daily_digest);
  if (const auto t = in.duration("repeat_every", repeat_span)) ladder.repeat_every = *t;
  if (in.has("steps")) {
    ladder.steps.clear();
    for (auto& one : in.tables("steps")) {
      one.require("to", "[\"okafor\"]");
      LadderStep step{one.duration("after", step_span).value_or(milliseconds{0}), one.texts("to")};
      one.finish();
      if (!ladder.steps.empty() && step.after <= ladder.steps.back().after)
        one.error("after", "is not later than the step before");
      ladder.steps.push_back(std::move(step));
    }
    if (ladder.steps.empty()) in.error("steps", "nobody would ever be told");
  }
  in.finish();
  return ladder;
}

void read_common(TableReader in, Notify& notify) {
  notify.zone = read_time_zone(in, notify.zone);
  if (auto hours = in.table("working_hours")) {
    notify.working_hours = read_hours(*hours, notify.working_hours);
    hours->finish();
  }
  notify.digest_minute = read_time_of_day(in, "daily_digest").value_or(notify.digest_minute) % minutes_of_day;
  const Node* every = in.node("test_every");
  const auto* word = every == nullptr ? nullptr : std::get_if<std::string>(&every->value);
  if (word != nullptr && *word == "never")
    notify.test_every.reset();
  else if (const auto t = in.duration("test_every", test_span))
    notify.test_every = std::chrono::floor<std::chrono::hours>(*t);
  notify.answer_within = in.duration("answer_within", answer_span).value_or(notify.answer_within);
  notify.merge_within = in.duration("merge_within", merge_span).value_or(notify.merge_within);
  in.finish();
}

} // namespace

Ladder default_ladder(alarms::Priority priority, const std::vector<Contact>& contacts) {
  using std::chrono::minutes;
  const auto only = [&](std::size_t n) {
    return std::vector<std::string>{contacts[std::min(n, contacts.size() - 1)].name};
  };
  if (contacts.empty()) return {};
  const std::vector<std::string> all{"everyone"};
  switch (priority) {
  case alarms::Priority::critical:
    return {{{minutes{0}, only(0)}, {minutes{1}, only(1)}, {minutes{3}, only(2)}, {minutes{5}, all}}, minutes{5}};
  case alarms::Priority::high:
    return {{{minutes{0}, only(0)}, {minutes{5}, only(1)}, {minutes{15}, all}}, std::nullopt};
  case alarms::Priority::medium: return {{{minutes{0}, only(0)}}, std::nullopt, true};
  case alarms::Priority::low: return {{{minutes{0}, only(0)}}, std::nullopt, false, true};
  }
  return {};
}

std::optional<Notify> read_notify(TableReader& root, const Site& site, const std::optional<Mqtt>& mqtt) {
  Notify notify;
  notify.zone = site.zone;
  if (auto common = root.table("notify")) read_common(*common, notify);
  const auto message_topic = own_topic(mqtt.value_or(Mqtt{}), site) + "/messages";
  if (auto routes = root.table("route"))
    routes->each_named("route", [&](const std::string& name, TableReader one) {
      notify.routes.push_back(read_route(name, one, message_topic));
    });
  if (auto contacts = root.table("contact"))
    contacts->each_named("contact", [&](const std::string& name, TableReader one) {
      notify.contacts.push_back(read_contact(name, one, notify.zone));
    });
  if (auto rotas = root.table("rota"))
    rotas->each_named("rota", [&](const std::string& name, TableReader one) {
      notify.rotas.push_back(read_rota(name, one, notify.zone));
    });
  for (const auto priority :
       {alarms::Priority::low, alarms::Priority::medium, alarms::Priority::high, alarms::Priority::critical})
    notify.ladders[static_cast<std::size_t>(priority)] = default_ladder(priority, notify.contacts);
  if (auto ladders = root.table("escalation"))
    ladders->each_named("priority", [&](const std::string& name, TableReader one) {
      const auto priority = alarms::priority_named(name);
      if (!priority) {
        one.problems().error(one.at(), one.path(),
                             fmt::format("\"{}\" is no priority; write {}", name,
                                         listed_nearest_first(name, {"critical", "high", "medium", "low"})));
        return;
      }
      auto& ladder = notify.ladders[static_cast<std::size_t>(*priority)];
      ladder = read_ladder(one, ladder);
    });
  if (!notify.contacts.empty()) return notify;
  for (const std::string_view key : {"notify", "route", "rota", "escalation"})
    if (root.has(key) && !root.has("contact"))
      root.error(key, "nobody would be told: a [contact.NAME] with its route is missing");
  return std::nullopt;
}

} // namespace oxherd::config
