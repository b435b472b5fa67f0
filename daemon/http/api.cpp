#include "daemon/http/api.hpp"

#include <array>
#include <functional>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/alarm.hpp"
#include "daemon/http/entity_tag.hpp"
#include "daemon/http/exports.hpp"
#include "daemon/json_depth.hpp"
#include "daemon/whole_number.hpp"

namespace oxherd::daemon::http {
namespace {

using identity::Person;
using identity::Role;
using nlohmann::json;

using Asked = std::variant<json, HttpResponse>;

/// What a route is given: the request, its path's variable parts in order, its body as JSON, who asks.
struct Call {
  const HttpRequest& request;
  std::vector<std::string> parts;
  json body;
  std::string author;
};

/// One thing that can be asked. A part of the path in braces is variable.
struct Route {
  Method method;
  std::string_view path;
  Role role;
  Asked (*ask)(const Call&);
};

/// No body of ours nests deeper; one of thousands of levels would exhaust the stack when it is copied or printed.
constexpr int depth_max = 8;

std::string dump(const json& value) { return value.dump(-1, ' ', false, json::error_handler_t::replace); }

Asked plain(const char* command) { return json{{"command", command}}; }

/// What stands in the body, with the names in `known` only.
json with_body(json request, const Call& call, std::initializer_list<const char*> known) {
  for (const char* key : known)
    if (const auto found = call.body.find(key); found != call.body.end()) request[key] = *found;
  request["author"] = call.author;
  return request;
}

Asked act(const Call& call) {
  if (!alarms::act_named(call.parts[2])) return problem(404, fmt::format("\"{}\" is no act", call.parts[2]));
  return with_body({{"command", "act"}, {"room", call.parts[0]}, {"alarm", call.parts[1]}, {"act", call.parts[2]}},
                   call, {"comment", "duration_s"});
}

Asked regime(const Call& call) {
  return with_body({{"command", "regime"}, {"room", call.parts[0]}}, call, {"regime", "comment", "seen_empty"});
}

Asked proof(const Call& call) {
  return with_body({{"command", "prove"}, {"output", call.parts[0]}}, call, {"step", "comment", "duration_s"});
}

Asked order(const Call& call) {
  return with_body({{"command", "control"}, {"output", call.parts[0]}}, call,
                   {"act", "fraction", "comment", "duration_s"});
}

Asked loop_order(const Call& call) {
  return with_body({{"command", "control"}, {"room", call.parts[0]}, {"loop", call.parts[1]}}, call,
                   {"act", "comment", "duration_s", "low", "high", "hysteresis", "output_low", "output_high"});
}

Asked calibrate(const Call& call) {
  json request = call.body;
  request["command"] = "calibrate";
  request["author"] = call.author;
  return request;
}

Asked route_test(const Call& call) { return with_body({{"command", "notify"}, {"what", "test"}}, call, {"contact"}); }

Asked test_answer(const Call& call) {
  const auto number = whole_number(call.parts[0]);
  if (!number) return problem(404, "a test has a number");
  return with_body({{"command", "notify"}, {"what", "answer"}, {"number", *number}}, call, {});
}

/// The query's parameters as members: `texts` as they are, `limit` and `points` as numbers.
Asked from_query(const Call& call, json request, std::initializer_list<const char*> texts) {
  for (const char* name : texts)
    if (const auto value = call.request.parameter(name); !value.empty()) request[name] = value;
  for (const char* name : {"limit", "points", "before"}) {
    const auto text = call.request.parameter(name);
    if (text.empty()) continue;
    const auto number = whole_number(text);
    if (!number) return problem(400, fmt::format("{} is a whole number", name));
    request[name] = *number;
  }
  return request;
}

Asked alarm_history(const Call& call) {
  return from_query(call, {{"command", "history"}, {"what", "alarms"}}, {"room", "alarm", "from", "to"});
}
Asked reading_history(const Call& call) {
  return from_query(call, {{"command", "history"}, {"what", "readings"}}, {"room", "sensor", "from", "to"});
}
Asked alarm_report(const Call& call) { return from_query(call, {{"command", "alarm_report"}}, {"room", "from", "to"}); }
Asked trend(const Call& call) {
  return from_query(call, {{"command", "trend"}}, {"room", "sensor", "quantity", "from", "to"});
}
Asked explain_recorded(const Call& call) {
  return from_query(call, {{"command", "explain"}}, {"room", "sensor", "at"});
}
Asked explain_typed(const Call& call) { return json{{"command", "explain"}, {"values", call.body}}; }
Asked calibrations(const Call& call) {
  json request{{"command", "calibrations"}, {"in_words", true}};
  const auto room = call.request.parameter("room"), sensor = call.request.parameter("sensor");
  if (!room.empty() && !sensor.empty()) request["cell"] = fmt::format("{}/{}", room, sensor);
  return request;
}
Asked recorded(const Call& call) {
  return from_query(call, {{"command", "recorded"}, {"room", call.parts[0]}, {"sensor", call.parts[1]}}, {"at"});
}

Asked certificate(const Call& call) {
  const auto number = whole_number(call.parts[0]);
  if (!number) return problem(404, "a record has a number");
  return json{{"command", "certificate"}, {"number", *number}, {"as_page", form_of(call.request) == Form::page}};
}

constexpr std::array<Route, 20> routes{{
    {Method::get, "site", Role::viewer, [](const Call&) { return plain("status"); }},
    {Method::get, "alarms", Role::viewer, [](const Call&) { return plain("alarms"); }},
    {Method::get, "history/alarms", Role::viewer, alarm_history},
    {Method::get, "history/readings", Role::viewer, reading_history},
    {Method::get, "alarm-report", Role::viewer, alarm_report},
    {Method::get, "trend", Role::viewer, trend},
    {Method::get, "explain", Role::viewer, explain_recorded},
    {Method::post, "explain", Role::viewer, explain_typed},
    {Method::get, "rooms/{}/sensors/{}/recorded", Role::viewer, recorded},
    {Method::get, "calibrations", Role::viewer, calibrations},
    {Method::get, "certificates/{}", Role::viewer, certificate},
    {Method::get, "notify", Role::viewer, [](const Call&) { return plain("notify"); }},
    {Method::post, "rooms/{}/alarms/{}/{}", Role::operator_, act},
    {Method::post, "rooms/{}/regime", Role::operator_, regime},
    {Method::post, "calibrate", Role::operator_, calibrate},
    {Method::post, "outputs/{}/proof", Role::engineer, proof},
    {Method::post, "outputs/{}/order", Role::operator_, order},
    {Method::post, "rooms/{}/loops/{}/order", Role::operator_, loop_order},
    {Method::post, "notify/tests", Role::operator_, route_test},
    {Method::post, "notify/tests/{}/answer", Role::viewer, test_answer},
}};

/// The variable parts, when the path is that of the route.
std::optional<std::vector<std::string>> parts_of(std::string_view pattern, const std::vector<std::string>& path) {
  std::vector<std::string> parts;
  for (std::size_t i = 1; i < path.size(); ++i) {
    const auto slash = pattern.find('/');
    const auto expected = pattern.substr(0, slash);
    if (expected.empty()) return std::nullopt;
    if (expected == "{}")
      parts.push_back(path[i]);
    else if (expected != path[i])
      return std::nullopt;
    pattern = slash == std::string_view::npos ? std::string_view{} : pattern.substr(slash + 1);
  }
  return pattern.empty() && path.size() > 1 ? std::optional{parts} : std::nullopt;
}

Role role_for(const Route& route, const std::vector<std::string>& parts, const json& body) {
  const bool engineers_act =
      route.ask == act && parts.size() == 3 && (parts[2] == "remove_from_service" || parts[2] == "return_to_service");
  const auto step = body.find("step"); // of whatever type: only its comparison is safe before the request is checked
  const bool withdrawal = route.ask == calibrate && step != body.end() && *step == "withdraw";
  const auto ordered = body.find("act"); // likewise
  const bool lets_work = route.ask == order && ordered != body.end() && (*ordered == "start" || *ordered == "release");
  return engineers_act || withdrawal || lets_work ? Role::engineer : route.role;
}

/// Why this person may not ask this; empty: go on.
std::optional<HttpResponse> objection(const HttpRequest& request, const std::optional<Person>& person, Role needed,
                                      bool changes, bool anyone_may_view) {
  if (!person && (changes || !anyone_may_view))
    return problem(401, "sign in first; `oxherd user NAME --role operator` makes a user");
  if (!person) return std::nullopt;
  if (changes && !person->csrf.empty() && request.header("oxherd-csrf") != person->csrf)
    return problem(403, "the header Oxherd-Csrf is missing or old: load the page anew");
  if (person->role < needed)
    return problem(403, fmt::format("{} is {}: this needs the role {}", person->name, identity::name_of(person->role),
                                    identity::name_of(needed)));
  return std::nullopt;
}

tl::expected<json, HttpResponse> body_of(const HttpRequest& request) {
  if (request.method != Method::post) return json::object();
  const auto type = request.header("content-type");
  if (!request.body.empty() && type.substr(0, type.find(';')) != "application/json")
    return tl::unexpected(problem(415, "the body is to be application/json"));
  if (json_depth(request.body) > depth_max) return tl::unexpected(problem(400, "the body is nested too deep"));
  auto body = request.body.empty() ? json::object() : json::parse(request.body, nullptr, false);
  if (!body.is_object()) return tl::unexpected(problem(400, "the body is no JSON object"));
  return body;
}

} // namespace

std::variant<Question, HttpResponse> question_of(const HttpRequest& request, const std::optional<Person>& person,
                                                 bool anyone_may_view) {
  bool other_method = false;
  for (const auto& route : routes) {
    const auto parts = parts_of(route.path, request.path);
    if (!parts) continue;
    const bool fits = request.method == route.method || (request.method == Method::head && route.method == Method::get);
    other_method = other_method || !fits;
    if (!fits) continue;
    auto body = body_of(request);
    if (!body) return body.error();
    const bool changes = route.method != Method::get && route.ask != explain_typed;
    if (auto no = objection(request, person, role_for(route, *parts, *body), changes, anyone_may_view)) return *no;
    auto asked = route.ask({request, *parts, std::move(*body), person ? person->name : std::string{}});
    if (auto* answer = std::get_if<HttpResponse>(&asked)) return *answer;
    const auto form = form_of(request);
    if (!form || (*form == Form::page && route.ask != certificate))
      return problem(400, "format is json, csv or ndjson; html for a certificate");
    return Question{dump(std::get<json>(asked)), *form};
  }
  if (other_method) return problem(405, "this is there, but not by this method");
  return problem(404, "there is nothing of that name; /api/openapi.json lists what there is");
}

namespace {

/// Where the rest is (RFC 8288), when a history was cut: its answers say so at their beginning.
void add_link(const HttpRequest& request, const std::string& result, HttpResponse& response) {
  constexpr std::string_view cut = R"({"truncated":true,"next":)";
  if (!result.starts_with(cut)) return;
  const auto number = std::string_view{result}.substr(cut.size(), result.find(',', cut.size()) - cut.size());
  std::string target;
  for (const auto& part : request.path) target += "/" + percent_encoded(part);
  target += "?";
  for (const auto& [name, value] : request.query)
    if (name != "before") target += fmt::format("{}={}&", percent_encoded(name), percent_encoded(value));
  response.headers.emplace_back("Link", fmt::format("<{}before={}>; rel=\"next\"", target, number));
}

int status_of(std::string_view kind) {
  if (kind == "malformed") return 400;
  if (kind == "refused") return 409;
  if (kind == "unknown" || kind == "none") return 404;
  return kind == "busy" ? 503 : 500;
}

} // namespace

HttpResponse answer_of(const HttpRequest& request, const Question& question, const std::string& line) {
  // The answer is not parsed where it is handed through: it may be long.
  constexpr std::string_view good = R"({"ok":true,"result":)";
  if (line.compare(0, good.size(), good) != 0 || line.back() != '}') {
    const json answer = json::parse(line, nullptr, false);
    if (!answer.is_object()) return problem(500, "the daemon gave no answer that can be read");
    return problem(status_of(answer.value("kind", "")), answer.value("error", "it failed"));
  }
  auto result = line.substr(good.size(), line.size() - good.size() - 1);
  HttpResponse response;
  if (question.form == Form::page) return page_of(result);
  if (question.form != Form::json) response = exported(question.form, result);
  add_link(request, result, response);
  if (question.form == Form::json) response.body = std::move(result);
  return with_entity_tag(request, std::move(response));
}

} // namespace oxherd::daemon::http
