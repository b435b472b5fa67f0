#include "daemon/control_socket/requests.hpp"

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/control_socket/person_name.hpp"
#include "daemon/json_depth.hpp"
#include "daemon/json_member.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using nlohmann::json;

/// The deepest request has one level; more is not ours, and json's own printer recurses.
constexpr int depth_max = 8;

std::optional<std::string> optional_text(const json& request, const char* key) {
  auto text = text_in(request, key);
  return text.empty() ? std::nullopt : std::optional{std::move(text)};
}

/// Longer than any suppression may be; what an alarm itself permits is its own affair.
constexpr double duration_max_s = 30.0 * 86400.0;

tl::expected<alarms::Monotonic, std::string> duration_of(const json& request) {
  const auto found = request.find("duration_s");
  if (found == request.end()) return alarms::Monotonic{0};
  const double seconds = found->is_number() ? found->get<double>() : -1.0;
  if (!(seconds >= 0.0 && seconds <= duration_max_s))
    return tl::unexpected(fmt::format("duration_s is a number of seconds up to {:.0f}", duration_max_s));
  return std::chrono::duration_cast<alarms::Monotonic>(std::chrono::duration<double>{seconds});
}

tl::unexpected<std::string> no_person(std::string_view asked) {
  return tl::unexpected(
      fmt::format("{} needs the name of the person: give \"author\", without control characters", asked));
}

tl::expected<Request, std::string> act_request(const json& request) {
  const std::string name = text_in(request, "act");
  const auto known = alarms::act_named(name);
  if (!known)
    return tl::unexpected(
        fmt::format("\"{}\" is not an act: acknowledge, silence, reset, shelve, shelve_once, unshelve, "
                    "remove_from_service, return_to_service, test or end_test",
                    name));
  ActRequest request_of_person{text_in(request, "room"), text_in(request, "alarm"), {}};
  auto& act = request_of_person.act;
  act.act = *known;
  act.author = text_in(request, "author");
  act.comment = text_in(request, "comment");
  const auto duration = duration_of(request);
  if (!duration) return tl::unexpected(duration.error());
  act.duration = *duration;
  if (request_of_person.room.empty() || request_of_person.alarm.empty())
    return tl::unexpected(std::string{"an act needs a room and an alarm"});
  if (!is_a_name(act.author)) return no_person("an act");
  return request_of_person;
}

tl::expected<Request, std::string> regime_request(const json& request) {
  RegimeRequest stated{text_in(request, "room"), {}};
  const auto name = text_in(request, "regime");
  const auto regime = alarms::regime_named(name);
  if (!regime)
    return tl::unexpected(fmt::format("\"{}\" is no regime: occupied, ventilated-before-entry, sealed-low-oxygen or "
                                      "enriched",
                                      name));
  stated.act.regime = *regime;
  stated.act.author = text_in(request, "author");
  stated.act.comment = text_in(request, "comment");
  if (stated.room.empty()) return tl::unexpected(std::string{"a regime needs a room"});
  if (!is_a_name(stated.act.author)) return no_person("a regime");
  if (const auto seen = request.find("seen_empty"); seen != request.end()) {
    if (!seen->is_boolean()) return tl::unexpected(std::string{"seen_empty is true or false"});
    stated.act.seen_empty = seen->get<bool>();
  }
  return stated;
}

tl::expected<Request, std::string> history_request(const json& request) {
  HistoryRequest history;
  const std::string what = text_in(request, "what");
  if (what != "readings" && what != "alarms")
    return tl::unexpected(fmt::format("\"{}\" has no history: readings or alarms", what));
  history.of_alarms = what == "alarms";
  history.query.room = optional_text(request, "room");
  history.query.sensor = optional_text(request, "sensor");
  history.query.alarm = optional_text(request, "alarm");
  const auto from = parse_rfc3339(text_in(request, "from"));
  const auto to = parse_rfc3339(text_in(request, "to"));
  if (!from || !to) return tl::unexpected(std::string{"history needs \"from\" and \"to\" as RFC 3339 times"});
  history.query.from = *from;
  history.query.to = *to;
  if (const auto flag = request.find("as_recorded"); flag != request.end()) {
    if (!flag->is_boolean()) return tl::unexpected(std::string{"as_recorded is true or false"});
    history.query.as_recorded = flag->get<bool>();
  }
  if (const auto limit = request.find("limit"); limit != request.end()) {
    if (!limit->is_number_integer() || limit->get<std::int64_t>() < 1 || limit->get<std::int64_t>() > history_limit_max)
      return tl::unexpected(fmt::format("limit is a whole number from 1 to {}", history_limit_max));
    history.query.limit = limit->get<int>();
  }
  if (const auto before = request.find("before"); before != request.end()) {
    if (!before->is_number_integer()) return tl::unexpected(std::string{"before is the \"next\" of an earlier answer"});
    history.query.before = before->get<std::int64_t>();
  }
  return history;
}

tl::expected<Request, std::string> alarm_report_request(const json& request) {
  const auto from = parse_rfc3339(text_in(request, "from"));
  const auto to = parse_rfc3339(text_in(request, "to"));
  if (!from || !to || *from >= *to)
    return tl::unexpected(
        std::string{"an alarm report needs \"from\" and a later \"to\" as RFC 3339 times with their offset"});
  return AlarmReportRequest{{optional_text(request, "room"), *from, *to}};
}

tl::expected<Request, std::string> notify_request(const json& request) {
  NotifyRequest notify;
  const auto what = text_in(request, "what");
  if (what == "test") {
    notify.what = NotifyRequest::What::test;
    notify.contact = text_in(request, "contact");
  } else if (what == "answer") {
    notify.what = NotifyRequest::What::answer;
    const auto number = request.find("number");
    if (number == request.end() || !number->is_number_integer())
      return tl::unexpected(std::string{"an answer needs the \"number\" of the test"});
    notify.number = number->get<std::int64_t>();
    notify.author = text_in(request, "author");
    if (!is_a_name(notify.author)) return no_person("an answer");
  } else if (!what.empty() && what != "show")
    return tl::unexpected(fmt::format("\"{}\" is nothing to ask of notify: show, test or answer", what));
  return notify;
}

tl::expected<Request, std::string> prove_request(const json& request) {
  ProveRequest prove{text_in(request, "output"), ProveRequest::Step::begin, text_in(request, "author"),
                     text_in(request, "comment")};
  const std::string step = text_in(request, "step");
  if (step == "worked")
    prove.step = ProveRequest::Step::worked;
  else if (step == "failed")
    prove.step = ProveRequest::Step::failed;
  else if (step != "begin")
    return tl::unexpected(fmt::format("\"{}\" is no step of a proof test: begin, worked or failed", step));
  if (prove.output.empty()) return tl::unexpected(std::string{"a proof test needs the name of an \"output\""});
  if (!is_a_name(prove.author)) return no_person("a proof test");
  const auto duration = duration_of(request);
  if (!duration) return tl::unexpected(duration.error());
  prove.duration = *duration;
  return prove;
}

tl::expected<Request, std::string> trend_request(const json& request) {
  TrendQuery query{text_in(request, "room"), text_in(request, "sensor"), nullptr, {}, {}};
  if (query.room.empty() || query.sensor.empty())
    return tl::unexpected(std::string{"a trend needs \"room\" and \"sensor\""});
  const auto name = text_in(request, "quantity");
  query.quantity = trend_quantity_named(name);
  if (query.quantity == nullptr)
    return tl::unexpected(fmt::format("\"{}\" has no trend: {}", name, trend_quantity_names()));
  const auto from = parse_rfc3339(text_in(request, "from"));
  const auto to = parse_rfc3339(text_in(request, "to"));
  if (!from || !to || *from >= *to)
    return tl::unexpected(std::string{"a trend needs \"from\" and a later \"to\" as RFC 3339 times"});
  query.from = *from;
  query.to = *to;
  if (const auto points = request.find("points"); points != request.end()) {
    if (!points->is_number_integer() || points->get<std::int64_t>() < 2 ||
        points->get<std::int64_t>() > trend_points_max)
      return tl::unexpected(fmt::format("points is a whole number from 2 to {}", trend_points_max));
    query.points = points->get<int>();
  }
  return TrendRequest{std::move(query)};
}

tl::expected<RecordedRequest, std::string> recorded_request(const json& request) {
  RecordedRequest recorded{text_in(request, "room"), text_in(request, "sensor"), std::nullopt};
  if (recorded.room.empty() || recorded.sensor.empty())
    return tl::unexpected(std::string{"a recorded reading needs \"room\" and \"sensor\""});
  if (const auto at = optional_text(request, "at")) {
    recorded.at = parse_rfc3339(*at);
    if (!recorded.at) return tl::unexpected(std::string{"\"at\" is an RFC 3339 time with its offset"});
  }
  return recorded;
}

tl::expected<Request, std::string> certificate_request(const json& request) {
  const auto number = request.find("number");
  if (number == request.end() || !number->is_number_integer())
    return tl::unexpected(std::string{"a certificate needs the \"number\" of its record"});
  return CertificateRequest{number->get<std::int64_t>(), request.value("as_page", json{}) == true};
}

tl::expected<Request, std::string> explain_request(const json& request) {
  const auto values = request.find("values");
  if (values == request.end())
    return recorded_request(request).map([](RecordedRequest r) { return Request{ExplainRequest{std::move(r), {}}}; });
  ExplainRequest explain;
  if (!values->is_object() || values->empty())
    return tl::unexpected(std::string{"\"values\" are texts by name, such as {\"signal\": \"11.9 mV\"}"});
  for (const auto& [name, value] : values->items()) {
    if (!value.is_string()) return tl::unexpected(fmt::format("the value of \"{}\" is a text with its unit", name));
    explain.values[name] = value.get<std::string>();
  }
  return explain;
}

} // namespace

tl::expected<Request, std::string> parse_request(const std::string& line) {
  if (json_depth(line) > depth_max) return tl::unexpected(std::string{"the request is nested too deep"});
  const json request = json::parse(line, nullptr, false);
  if (request.is_discarded() || !request.is_object())
    return tl::unexpected(std::string{"the request is not a JSON object"});
  const std::string command = text_in(request, "command");
  if (command == "status") return StatusRequest{};
  if (command == "alarms") return AlarmsRequest{};
  if (command == "act") return act_request(request);
  if (command == "regime") return regime_request(request);
  if (command == "control") return parse_control(request).map([](ControlRequest c) { return Request{std::move(c)}; });
  if (command == "history") return history_request(request);
  if (command == "alarm_report") return alarm_report_request(request);
  if (command == "trend") return trend_request(request);
  if (command == "recorded")
    return recorded_request(request).map([](RecordedRequest r) { return Request{std::move(r)}; });
  if (command == "explain") return explain_request(request);
  if (command == "prove") return prove_request(request);
  if (command == "calibrations")
    return CalibrationsRequest{request.value("in_words", json{}) == true, text_in(request, "cell")};
  if (command == "certificate") return certificate_request(request);
  if (command == "notify") return notify_request(request);
  if (command == "calibrate")
    return parse_calibrate(request).map([](CalibrateRequest r) { return Request{std::move(r)}; });
  return tl::unexpected(
      fmt::format("\"{}\" is not a command: status, alarms, act, regime, control, prove, history, trend, alarm_report, "
                  "recorded, explain, calibrations, certificate, calibrate or notify",
                  command));
}

std::string author_of(const Request& request) {
  if (const auto* act = std::get_if<ActRequest>(&request)) return act->act.author;
  if (const auto* regime = std::get_if<RegimeRequest>(&request)) return regime->act.author;
  if (const auto* calibrate = std::get_if<CalibrateRequest>(&request)) return calibrate->author;
  if (const auto* control = std::get_if<ControlRequest>(&request)) return author_of(*control);
  if (const auto* notify = std::get_if<NotifyRequest>(&request)) return notify->author;
  if (const auto* prove = std::get_if<ProveRequest>(&request)) return prove->author;
  return {};
}

std::string accepted(const std::string& result_json) { return R"({"ok":true,"result":)" + result_json + "}"; }

std::string declined(const char* kind, const std::string& text) {
  return json{{"ok", false}, {"kind", kind}, {"error", text}}.dump(-1, ' ', false, json::error_handler_t::replace);
}

} // namespace oxherd::daemon
