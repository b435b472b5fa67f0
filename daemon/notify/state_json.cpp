#include "daemon/notify/state_json.hpp"

#include <algorithm>

#include <nlohmann/json.hpp>

namespace oxherd::daemon::notify {
namespace {

using nlohmann::json;
using std::chrono::milliseconds;

std::int64_t ms_of(WallTime t) { return t.time_since_epoch().count(); }
WallTime wall_of(const json& j) { return WallTime{milliseconds{j.get<std::int64_t>()}}; }

json facts_to(const Facts& f) {
  json j{{"room", f.room},
         {"alarm", f.alarm},
         {"state", alarms::name_of(f.state)},
         {"priority", alarms::name_of(f.priority)},
         {"safety", f.safety},
         {"present", f.present},
         {"first_out", f.first_out},
         {"chattering", f.chattering},
         {"test", f.test},
         {"about", static_cast<int>(f.about)},
         {"raised", ms_of(f.raised)},
         {"unit", f.unit},
         {"value_text", f.value_text},
         {"limit_text", f.limit_text},
         {"text", f.text}};
  if (f.value) j["value"] = *f.value;
  if (f.expanded) j["expanded"] = *f.expanded;
  if (f.limit) j["limit"] = *f.limit;
  return j;
}

std::optional<double> number_in(const json& j, const char* key) {
  const auto found = j.find(key);
  return found == j.end() ? std::nullopt : std::optional{found->get<double>()};
}

Facts facts_of_json(const json& j) {
  Facts f;
  f.room = j.at("room").get<std::string>();
  f.alarm = j.at("alarm").get<std::string>();
  f.state = alarms::state_named(j.at("state").get<std::string>()).value_or(alarms::State::unacknowledged);
  f.priority = alarms::priority_named(j.at("priority").get<std::string>()).value_or(alarms::Priority::critical);
  f.safety = j.at("safety").get<bool>();
  f.present = j.at("present").get<bool>();
  f.first_out = j.at("first_out").get<bool>();
  f.chattering = j.at("chattering").get<bool>();
  f.test = j.at("test").get<bool>();
  f.about = static_cast<About>(std::clamp(j.at("about").get<int>(), 0, static_cast<int>(About::other)));
  f.raised = wall_of(j.at("raised"));
  f.unit = j.at("unit").get<std::string>();
  f.value_text = j.at("value_text").get<std::string>();
  f.limit_text = j.at("limit_text").get<std::string>();
  f.text = j.at("text").get<std::string>();
  f.value = number_in(j, "value");
  f.expanded = number_in(j, "expanded");
  f.limit = number_in(j, "limit");
  return f;
}

json climb_to(const Climb& c, Monotonic now) {
  json sent = json::array();
  for (const auto& s : c.sent) sent.push_back({s.contact, s.id, ms_of(s.at)});
  return {{"facts", facts_to(c.facts)}, {"age", (now - c.since).count()}, {"step_age", (now - c.last_step).count()},
          {"steps_done", c.steps_done}, {"answered", c.answered},         {"return_told", c.return_told},
          {"sent", std::move(sent)}};
}

Climb climb_of_json(const json& j, Monotonic then) {
  Climb c;
  c.facts = facts_of_json(j.at("facts"));
  c.since = then - Monotonic{j.at("age").get<std::int64_t>()};
  c.last_step = then - Monotonic{j.at("step_age").get<std::int64_t>()};
  c.steps_done = j.at("steps_done").get<std::size_t>();
  c.answered = j.at("answered").get<bool>();
  c.return_told = j.at("return_told").get<bool>();
  for (const auto& s : j.at("sent"))
    c.sent.push_back({s.at(0).get<std::string>(), s.at(1).get<std::string>(), wall_of(s.at(2))});
  return c;
}

json tests_to(const RouteTests& tests) {
  json last = json::array(), period = json::array();
  for (const auto& [key, t] : tests.last)
    last.push_back({{"contact", key.first},
                    {"route", key.second},
                    {"number", t.number},
                    {"sent", ms_of(t.sent)},
                    {"answered", t.answered ? json(ms_of(*t.answered)) : json()},
                    {"by", t.answered_by},
                    {"reported", t.reported}});
  for (const auto& [key, n] : tests.period) period.push_back({key.first, key.second, n});
  return {{"last", std::move(last)}, {"period", std::move(period)}};
}

RouteTests tests_of_json(const json& j) {
  RouteTests tests;
  for (const auto& t : j.at("last")) {
    auto& test = tests.last[{t.at("contact").get<std::string>(), t.at("route").get<std::string>()}];
    test.number = t.at("number").get<std::int64_t>();
    test.sent = wall_of(t.at("sent"));
    if (!t.at("answered").is_null()) test.answered = wall_of(t.at("answered"));
    test.answered_by = t.at("by").get<std::string>();
    test.reported = t.at("reported").get<bool>();
  }
  for (const auto& p : j.at("period"))
    tests.period[{p.at(0).get<std::string>(), p.at(1).get<std::string>()}] = p.at(2).get<std::int64_t>();
  return tests;
}

State state_of_json(const json& j, Now now) {
  const auto passed = std::max(milliseconds{0}, now.wall - wall_of(j.at("at")));
  const Monotonic then = now.mono - passed;
  State state;
  for (const auto& one : j.at("climbs")) {
    auto c = climb_of_json(one, then);
    State::Key key{c.facts.room, c.facts.alarm};
    state.climbs.emplace(std::move(key), std::move(c));
  }
  for (const auto& w : j.at("waiting"))
    state.waiting.push_back({w.at("contact").get<std::string>(), static_cast<Kind>(w.at("kind").get<int>()),
                             facts_of_json(w.at("facts")), w.at("step").get<unsigned>()});
  for (const auto& f : j.at("digest")) state.digest.push_back(facts_of_json(f));
  for (const auto& [contact, age] : j.at("merged").items())
    state.merged_at[contact] = then - Monotonic{age.get<std::int64_t>()};
  if (!j.at("digest_day").is_null()) state.digest_day = j.at("digest_day").get<config::LocalMinutes>();
  state.tests = tests_of_json(j.at("tests"));
  state.last_number = j.at("last_number").get<std::int64_t>();
  state.id_stem = j.at("id_stem").get<std::string>();
  return state;
}

} // namespace

std::string to_json(const State& state, Now now) {
  json climbs = json::array(), waiting = json::array(), digest = json::array(), merged = json::object();
  for (const auto& [key, c] : state.climbs) climbs.push_back(climb_to(c, now.mono));
  for (const auto& w : state.waiting)
    waiting.push_back(
        {{"contact", w.contact}, {"kind", static_cast<int>(w.kind)}, {"facts", facts_to(w.facts)}, {"step", w.step}});
  for (const auto& f : state.digest) digest.push_back(facts_to(f));
  for (const auto& [contact, at] : state.merged_at) merged[contact] = (now.mono - at).count();
  const json all{{"at", ms_of(now.wall)},          {"climbs", std::move(climbs)},
                 {"waiting", std::move(waiting)},  {"digest", std::move(digest)},
                 {"merged", std::move(merged)},    {"digest_day", state.digest_day ? json(*state.digest_day) : json()},
                 {"tests", tests_to(state.tests)}, {"last_number", state.last_number},
                 {"id_stem", state.id_stem}};
  return all.dump(-1, ' ', false, json::error_handler_t::replace);
}

tl::expected<State, std::string> state_from_json(std::string_view text, Now now) {
  try { // json says by exceptions what is missing or of another type
    return state_of_json(json::parse(text), now);
  } catch (const json::exception& e) {
    return tl::unexpected(std::string{e.what()});
  }
}

} // namespace oxherd::daemon::notify
