#include "daemon/run/calibration_desk.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "daemon/calibration/record_json.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using Answer = CalibrationDesk::Answer;
using Step = CalibrateRequest::Step;
using alarms::seconds_of;

/// Who walks away leaves a cell in function check: that must end by itself.
constexpr Monotonic looked_at_within = std::chrono::minutes{10};

Answer refused(std::string words) { return {{}, "refused", std::move(words), {}}; }
Answer unknown(std::string words) { return {{}, "unknown", std::move(words), {}}; }

std::optional<SensorRef> cell_named(const config::Settings& settings, const std::string& room,
                                    const std::string& sensor) {
  for (std::size_t r = 0; r < settings.rooms.size(); ++r)
    for (std::size_t s = 0; s < settings.rooms[r].sensors.size(); ++s)
      if (settings.rooms[r].name == room && settings.rooms[r].sensors[s].name == sensor) return SensorRef{r, s};
  return std::nullopt;
}

std::string list_json(const std::vector<std::string>& texts) {
  std::vector<std::string> quoted;
  for (const auto& text : texts) quoted.push_back(json_string(text));
  return json_array(quoted);
}

/// What goes on around the cell, as far as the site knows.
Circumstances circumstances_of(const Site& site, SensorRef at, const CalibrationSession& session, Monotonic now,
                               WallTime wall) {
  Circumstances around;
  session.describe(around);
  const auto& room = site.settings().rooms[at.room];
  if (const auto& span = room.sensors[at.sensor].cell->signal_in_air) around.signal_in_air = {span->low, span->high};
  around.sealed_room = site.regime(at.room).regime == alarms::Regime::sealed_low_oxygen;
  const auto status = site.status(at.room, now, wall);
  for (std::size_t a = 0; a < status.alarms.size(); ++a) // the cell at hand may itself be why a room is not monitored
    if (status.alarms[a].present && room.alarms[a].quantity != config::AlarmQuantity::monitoring)
      around.active_alarms.push_back(status.alarms[a].alarm);
  const auto& gas = site.gas(at.room);
  for (std::size_t s = 0; s < gas.size(); ++s) {
    if (!gas[s] || s == at.sensor) continue;
    if (gas[s]->oxygen) around.neighbours.push_back({room.sensors[s].name, gas[s]->oxygen->dry});
    if (gas[s]->carbon_dioxide) around.carbon_dioxide = gas[s]->carbon_dioxide->value.si();
  }
  return around;
}

/// Whether a condition has come, be it over by now; what a suppression hides has warned nobody.
bool shows_a_condition(alarms::State state) {
  using enum alarms::State;
  return state != normal && state != shelved && state != suppressed_by_design && state != out_of_service;
}

/// For a bump test: whether the chain behind the cell acted.
std::string alarms_that_acted(const Site& site, SensorRef at, WallTime since, Monotonic now, WallTime wall) {
  std::vector<std::string> acted;
  for (const auto& alarm : site.status(at.room, now, wall).alarms)
    if (shows_a_condition(alarm.state) && !alarm.test && alarm.raised >= since) acted.push_back(alarm.alarm);
  return acted.empty() ? std::string{"no alarm of the room acted during the test"}
                       : fmt::format("acted during the test: {}", fmt::join(acted, ", "));
}

std::string judgement_json(const CalibrationRecord& record, const Judgement& judgement) {
  std::vector<std::string> refusals;
  for (const auto& refusal : judgement.refusals)
    refusals.push_back(
        JsonObject{}.text("text", refusal.text).flag("can_be_overridden", refusal.can_be_overridden).str());
  return JsonObject{}
      .json("record", to_json(record))
      .json("refusals", json_array(refusals))
      .json("warnings", list_json(judgement.warnings))
      .flag("permitted", judgement.permits(!record.reason.empty()))
      .str();
}

/// Judges and, when permitted and not a dry run, hands the record over to be stored.
Answer judged(CalibrationRecord record, Judgement judgement, bool dry_run) {
  record.warnings = judgement.warnings;
  for (const auto& refusal : judgement.refusals) // kept with the record: `reason` says why it was taken all the same
    record.warnings.push_back("overridden: " + refusal.text);
  if (dry_run) return {judgement_json(record, judgement), {}, {}, {}};
  if (!judgement.permits(!record.reason.empty())) {
    std::vector<std::string> words;
    for (const auto& refusal : judgement.refusals)
      words.push_back(refusal.text + (refusal.can_be_overridden ? " (or give a reason)" : ""));
    return refused(fmt::format("{}", fmt::join(words, "; ")));
  }
  Answer answer{judgement_json(record, judgement), {}, {}, {}};
  answer.to_store = std::move(record);
  return answer;
}

} // namespace

Answer CalibrationDesk::step(Site& site, const CalibrateRequest& request, const std::vector<CalibrationRecord>& records,
                             Monotonic now, WallTime wall) {
  if (request.step == Step::withdraw) return withdraw(request, records, wall);
  if (request.step == Step::begin) return begin(site, request, now, wall);
  const std::string name = request.room + "/" + request.sensor;
  const auto found = sessions_.find(name);
  if (found == sessions_.end()) return no_session(name);
  Open& open = found->second;
  if (open.being_stored) return refused(fmt::format("the calibration of {} is being recorded", name));
  open.looked_at = now;
  auto& session = *open.session;
  switch (request.step) {
  case Step::look: return look(open, now);
  case Step::another: session.start_point(seconds_of(now)); return look(open, now);
  case Step::take: {
    const auto point = session.take(request.gas, request.typed);
    return point ? look(open, now) : refused(point.error());
  }
  case Step::enter: {
    const auto& typed = request.typed;
    const bool humidity_known = typed.humidity || request.gas.kind != GasKind::fresh_air;
    if (!request.signal || !typed.temperature || !humidity_known || !typed.pressure || !request.performed)
      return refused("a point entered by hand needs signal, temperature, humidity, pressure and the time it was taken");
    TakenPoint point;
    point.gas = request.gas;
    point.values = {*request.signal,
                    request.gas.oxygen,
                    {*typed.temperature, typed.humidity.value_or(dry_gas_humidity), {}, *typed.pressure},
                    {}};
    point.temperature_from = point.pressure_from = "typed";
    point.humidity_from = typed.humidity ? "typed" : dry_gas_source;
    session.enter(std::move(point), *request.performed);
    return look(open, now);
  }
  case Step::finish: return finish(site, open, request, records, now, wall);
  case Step::cancel: close(site, name); return {R"({"cancelled":true})", {}, {}, {}};
  case Step::begin:
  case Step::withdraw: break;
  }
  return unknown("no such step");
}

Answer CalibrationDesk::begin(Site& site, const CalibrateRequest& request, Monotonic now, WallTime wall) {
  const std::string name = request.room + "/" + request.sensor;
  const auto at = cell_named(site.settings(), request.room, request.sensor);
  if (!at) return unknown(fmt::format("there is no sensor {}: `oxherd status` lists them", name));
  const auto& basis = site.basis(*at);
  if (!basis || !basis->cell)
    return unknown(
        fmt::format("{} is no oxygen cell with a signal of its own: there is nothing to calibrate here", name));
  if (const auto open = sessions_.find(name); open != sessions_.end())
    return refused(fmt::format("{} calibrates {} already: finish or cancel that first",
                               open->second.session->plan().author, name));
  SessionPlan plan;
  plan.act = request.act;
  plan.room = request.room;
  plan.sensor = request.sensor;
  plan.author = request.author;
  plan.stability.seconds = std::chrono::duration<double>(basis->cell->stable_for).count();
  const Open& open =
      sessions_
          .emplace(name,
                   Open{*at, std::make_unique<CalibrationSession>(std::move(plan), basis, seconds_of(now), wall), now})
          .first->second;
  ended_.erase(name);
  // A bump test is to make the alarm act; anything else is to leave it alone while cylinder gas is on the cell.
  if (request.act != CalibrationAct::bump_test)
    site.set_function_check(*at, fmt::format("{} by {} under way", name_of(request.act), request.author));
  return look(open, now);
}

Answer CalibrationDesk::look(const Open& open, Monotonic now) const {
  const auto& session = *open.session;
  const auto verdict = session.stability();
  const auto& evidence = verdict.evidence;
  JsonObject out;
  out.text("act", name_of(session.plan().act)).integer("points", std::ssize(session.points()));
  out.number("seconds", session.seconds_of_point(seconds_of(now)));
  if (const auto& latest = session.latest()) {
    out.text("at", rfc3339(latest->at)).number("signal_mv", latest->signal.value.si() * 1e3);
    out.number("temperature_c", latest->gas.temperature.value.si() - 273.15);
    out.number("humidity_percent", latest->gas.humidity.value.si() * 100.0);
    out.number("pressure_kpa", latest->gas.pressure.value.si() / 1e3);
  }
  const auto& basis = *session.basis();
  out.text("temperature_from", basis.temperature_from).text("humidity_from", basis.humidity_from);
  out.text("pressure_from", basis.pressure_from);
  if (const auto reading = session.reading())
    out.number("dry_fraction", reading->dry.si()).number("u_dry_fraction", reading->u_dry);
  out.flag("stable", evidence.stable).number("window_s", evidence.seconds).integer("samples", evidence.samples);
  out.number("window_wanted_s", session.plan().stability.seconds);
  out.number("slope_percent_per_minute", evidence.slope_per_minute * 100.0);
  out.number("u_slope_percent_per_minute", evidence.u_slope_per_minute * 100.0);
  out.number("scatter_percent", evidence.scatter * 100.0);
  out.number("seconds_left", verdict.seconds_left);
  out.json("waiting_for", list_json(verdict.waiting_for)).json("cautions", list_json(verdict.cautions));
  return {out.str(), {}, {}, {}};
}

Answer CalibrationDesk::finish(const Site& site, Open& open, const CalibrateRequest& request,
                               const std::vector<CalibrationRecord>& records, Monotonic now, WallTime wall) {
  const auto& session = *open.session;
  std::string problem;
  auto record = session.propose(wall, request.reason, problem);
  record.supersedes = request.number;
  auto around = circumstances_of(site, open.sensor, session, now, wall);
  around.equation_error = std::move(problem);
  auto judgement = judge_calibration(record, records, around);
  if (record.act == CalibrationAct::bump_test)
    judgement.warnings.push_back(alarms_that_acted(site, open.sensor, session.began(), now, wall));
  auto answer = judged(std::move(record), std::move(judgement), request.dry_run);
  open.being_stored = answer.to_store.has_value();
  return answer;
}

Answer CalibrationDesk::withdraw(const CalibrateRequest& request, const std::vector<CalibrationRecord>& records,
                                 WallTime wall) const {
  if (!request.number) return refused("say which record is to be withdrawn: give its number");
  if (request.reason.empty()) return refused("a withdrawal needs a reason");
  const auto named = std::find_if(records.begin(), records.end(),
                                  [&](const auto& record) { return record.number == *request.number; });
  if (named == records.end())
    return unknown(fmt::format("there is no record {}: `oxherd calibrations` lists them", *request.number));
  const auto open = session_of_cell(named->serial);
  if (open != sessions_.end() && open->second.being_stored)
    return refused(fmt::format("the calibration of {} is being recorded: withdraw when that is done", open->first));
  if (open != sessions_.end() && open->second.session->plan().author != request.author)
    return refused(fmt::format("{} calibrates this cell now ({}), from what is on record: withdraw when that is "
                               "finished or cancelled. A calibration that nobody looks at ends by itself after {} min",
                               open->second.session->plan().author, open->first,
                               looked_at_within / std::chrono::minutes{1}));
  auto record = withdrawal_of(*named, request.author, request.reason, wall);
  auto judgement = judge_calibration(record, records, {});
  if (open != sessions_.end())
    judgement.warnings.push_back(fmt::format("your calibration of {} that is under way ends with this", open->first));
  return judged(std::move(record), std::move(judgement), request.dry_run);
}

void CalibrationDesk::note(const Site& site, const Poll& poll, const Outcome& outcome) {
  if (sessions_.empty()) return;
  const auto open = std::find_if(sessions_.begin(), sessions_.end(),
                                 [&](const auto& one) { return one.second.sensor == poll.sensor; });
  if (open == sessions_.end()) return;
  const auto& sensor = site.settings().rooms[poll.sensor.room].sensors[poll.sensor.sensor];
  const auto point = point_of(sensor, config::Measurand::oxygen);
  if (!point || *point >= outcome.samples.size()) return;
  const auto& sample = outcome.samples[*point];
  if (!sample.si || !sample.fault.empty()) return;
  open->second.session->add({seconds_of(poll.at),
                             poll.wall,
                             {Signal::from_si(*sample.si), sensor.points[*point].u_si},
                             site.ambient(poll.sensor.room, poll.at).gas});
}

std::vector<std::string> CalibrationDesk::expire(Site& site, Monotonic now) {
  std::vector<std::string> ended;
  for (const auto& [name, open] : sessions_)
    if (now - open.looked_at > looked_at_within) ended.push_back(name);
  for (const auto& name : ended)
    close(site, name, fmt::format("nobody looked at it for {} min", looked_at_within / std::chrono::minutes{1}));
  return ended;
}

void CalibrationDesk::stored(Site& site, const CalibrationRecord& record) {
  if (record.act != CalibrationAct::withdrawal) return close(site, record.room + "/" + record.sensor);
  // One may have been begun since the withdrawal was asked for.
  const auto open = session_of_cell(record.serial);
  if (open != sessions_.end())
    close(site, std::string{open->first},
          fmt::format("{} withdrew record {} of this cell", record.author, record.supersedes.value_or(0)));
}

void CalibrationDesk::not_stored(const CalibrationRecord& record) {
  if (record.act == CalibrationAct::withdrawal) return; // it has no session
  const auto found = sessions_.find(record.room + "/" + record.sensor);
  if (found != sessions_.end()) found->second.being_stored = false;
}

void CalibrationDesk::forget_all() {
  for (const auto& [name, open] : sessions_) ended_[name] = "the settings were reloaded";
  sessions_.clear();
}

Answer CalibrationDesk::no_session(const std::string& name) const {
  const auto why = ended_.find(name);
  if (why == ended_.end()) return unknown(fmt::format("no calibration of {} is under way: begin one", name));
  return unknown(fmt::format("the calibration of {} has ended without a record: {}. Begin another", name, why->second));
}

CalibrationDesk::Sessions::const_iterator CalibrationDesk::session_of_cell(const std::string& serial) const {
  return std::find_if(sessions_.begin(), sessions_.end(),
                      [&](const auto& one) { return one.second.session->basis()->cell->serial == serial; });
}

void CalibrationDesk::close(Site& site, const std::string& name, const std::string& why) {
  const auto found = sessions_.find(name);
  if (found == sessions_.end()) return;
  if (!why.empty()) ended_[name] = why;
  site.set_function_check(found->second.sensor, std::nullopt);
  sessions_.erase(found);
}

} // namespace oxherd::daemon
