#include <algorithm>
#include <utility>

#include <boost/asio/post.hpp>

#include "daemon/calibration/certificate.hpp"
#include "daemon/calibration/record_json.hpp"
#include "daemon/calibration/wording.hpp"
#include "daemon/clock.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/payloads.hpp"
#include "daemon/run/cells_answer.hpp"
#include "daemon/run/daemon.hpp"
#include "daemon/store/recorded_oxygen.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon {
namespace {

namespace asio = boost::asio;

/// Who acted as whom, each told once; beyond, nobody reads it.
constexpr std::size_t people_max = 1000;
/// A person waits this long for the disk before being told that the act counts but is not recorded yet.
constexpr std::chrono::seconds commit_patience{2};

template <class Found> std::string history_answer(const Found& found) {
  return found ? accepted(history_payload(*found)) : declined("internal", found.error().what);
}

std::string recorded_answer(const tl::expected<std::optional<RecordedOxygen>, StoreError>& found) {
  if (!found) return declined("internal", found.error().what);
  if (!*found)
    return declined("none", "there is no oxygen reading of that sensor at that time nor in the day before it");
  return accepted(recorded_text(**found));
}

} // namespace

void Daemon::on_line(const std::string& line, const std::optional<Peer>& peer, Reply reply) {
  const auto request = parse_request(line);
  if (!request) return reply(declined("malformed", request.error()));
  // The journal has the name that was given; who was logged in is in the log, once for each.
  if (const auto author = author_of(*request); peer && !author.empty() && people_.size() < people_max)
    if (people_.emplace(peer->uid, author).second)
      asio::post(aside_, [peer = *peer, author] { log::info("{} acts as \"{}\"", account_of(peer), author); });
  on_request(*request, std::move(reply));
}

void Daemon::on_request(const Request& request, Reply reply) {
  if (std::holds_alternative<StatusRequest>(request)) return answer_status(std::move(reply));
  if (std::holds_alternative<AlarmsRequest>(request)) return answer_alarms(std::move(reply));
  if (const auto* act = std::get_if<ActRequest>(&request)) return answer_act(*act, std::move(reply));
  if (const auto* regime = std::get_if<RegimeRequest>(&request)) return answer_regime(*regime, std::move(reply));
  if (const auto* history = std::get_if<HistoryRequest>(&request)) return answer_history(*history, std::move(reply));
  if (const auto* report = std::get_if<AlarmReportRequest>(&request))
    return answer_alarm_report(*report, std::move(reply));
  if (const auto* certificate = std::get_if<CertificateRequest>(&request))
    return answer_certificate(*certificate, std::move(reply));
  if (const auto* step = std::get_if<CalibrateRequest>(&request)) return answer_calibrate(*step, std::move(reply));
  if (const auto* notify = std::get_if<NotifyRequest>(&request)) return answer_notify(*notify, reply);
  if (const auto* trend = std::get_if<TrendRequest>(&request)) return answer_trend(*trend, std::move(reply));
  if (const auto* recorded = std::get_if<RecordedRequest>(&request))
    return answer_recorded(*recorded, std::move(reply));
  if (const auto* explain = std::get_if<ExplainRequest>(&request)) return answer_explain(*explain, std::move(reply));
  if (const auto* order = std::get_if<ControlRequest>(&request)) return answer_control(*order, std::move(reply));
  if (const auto* prove = std::get_if<ProveRequest>(&request)) return answer_prove(*prove, std::move(reply));
  answer_calibrations(std::get<CalibrationsRequest>(request), std::move(reply)); // the last kind there is
}

http::DecisionLoop Daemon::for_others() {
  return {[this](std::string line, Reply reply) {
            asio::post(loop_, [this, line = std::move(line), reply = std::move(reply)]() mutable {
              on_line(line, std::nullopt, std::move(reply));
            });
          },
          [this](identity::UserNote note) {
            asio::post(loop_, [this, note = std::move(note)]() mutable { note_user(std::move(note)); });
          }};
}

void Daemon::note_user(identity::UserNote note) {
  if (!users_noted_.take(note)) return;
  tell_untold();
  store_->alarm(site_.numbered(journal_line(std::move(note))), {}, {}); // a line of the journal about no alarm
}

void Daemon::answer_status(Reply reply) {
  survey_.ask([this, reply = std::move(reply)](const Survey::Rooms& rooms) {
    asio::post(questions_, [rooms, around = surroundings(), now = wall_now(), reply] {
      reply(accepted(status_answer(*rooms, around, now)));
    });
  });
}

void Daemon::answer_alarms(Reply reply) {
  survey_.ask([this, reply = std::move(reply)](const Survey::Rooms& rooms) {
    asio::post(questions_, [rooms, now = wall_now(), reply] { reply(accepted(alarms_answer(*rooms, now))); });
  });
}

void Daemon::answer_notify(const NotifyRequest& request, const Reply& reply) {
  if (!sinks_.notify)
    return reply(declined("none", "nobody is told of alarms: the settings have no [contact.NAME] and no [watcher]"));
  const auto answer = [reply](const tl::expected<std::string, std::string>& result) {
    reply(result ? accepted(*result) : declined("refused", result.error()));
  };
  switch (request.what) {
  case NotifyRequest::What::show: return reply(accepted(notify::notify_payload(sinks_.notify->health())));
  case NotifyRequest::What::test: return sinks_.notify->test(request.contact, answer);
  case NotifyRequest::What::answer: return sinks_.notify->answer_test(request.number, request.author, answer);
  }
}

void Daemon::answer_calibrate(const CalibrateRequest& request, Reply reply) {
  auto answer = desk_.step(site_, request, calibration_records_, monotonic_now(), wall_now());
  if (!answer.refusal.empty()) return reply(declined(answer.kind.c_str(), answer.refusal));
  if (!answer.to_store) return reply(accepted(answer.result));
  // On the disk first, in force then: what a reading rests on must never be lost.
  asio::post(aside_, [this, record = std::move(*answer.to_store), reply = std::move(reply)]() mutable {
    const auto number = store_->add(record);
    if (!number) {
      log::error("{} of {}/{} by {} NOT recorded: {}", name_of(record.act), record.room, record.sensor, record.author,
                 number.error().what);
      auto words = not_recorded_text(record, number.error().what);
      return asio::post(loop_, [this, record = std::move(record), words = std::move(words), reply = std::move(reply)] {
        desk_.not_stored(record); // before the answer: it may be asked to finish again at once
        reply(declined("internal", words));
      });
    }
    record.number = *number;
    asio::post(loop_, [this, record = std::move(record), reply = std::move(reply)] {
      calibration_stored(record);
      reply(accepted(JsonObject{}.json("record", to_json(record)).flag("stored", true).str()));
    });
  });
}

void Daemon::calibration_stored(CalibrationRecord record) {
  log::info("{} of {}/{} (cell {}) by {} recorded with number {}", name_of(record.act), record.room, record.sensor,
            record.serial, record.author, record.number);
  desk_.stored(site_, record);
  calibration_records_.push_back(std::move(record));
  const auto in_force = calibrations_in_force(site_.settings(), calibration_records_, wall_now());
  const auto& rooms = site_.settings().rooms;
  for (std::size_t r = 0; r < rooms.size(); ++r)
    for (std::size_t s = 0; s < rooms[r].sensors.size(); ++s) {
      const auto found = in_force.find(rooms[r].name + "/" + rooms[r].sensors[s].name);
      site_.set_calibration({r, s}, found == in_force.end() ? std::nullopt : std::optional{found->second});
    }
  review_cells();
}

void Daemon::answer_act(const ActRequest& request, Reply reply) {
  const auto decided = std::chrono::steady_clock::now();
  auto acted = site_.act(request.room, request.alarm, request.act, monotonic_now(), wall_now());
  if (!acted)
    return reply(declined("unknown",
                          "there is no alarm " + request.room + "/" + request.alarm + ": `oxherd alarms` lists them"));
  drive_outputs(decided);
  record(acted->outcome);
  if (acted->refusal) return reply(declined("refused", *acted->refusal));
  const std::string alarm =
      acted->outcome.alarms.empty() ? "null" : alarm_payload(acted->outcome.alarms.front().status);
  answer_when_recorded(JsonObject{}.json("alarm", alarm), std::move(reply));
}

void Daemon::answer_regime(const RegimeRequest& request, Reply reply) {
  const auto decided = std::chrono::steady_clock::now();
  const auto now = monotonic_now();
  const auto wall = wall_now();
  auto acted = site_.set_regime(request.room, request.act, now, wall);
  if (!acted) return reply(declined("unknown", "there is no room " + request.room + ": `oxherd regime` lists them"));
  const auto outcome =
      acted->refusal ? Outcome{} : site_.tick_room(acted->outcome.rooms_changed.front(), now, wall); // in force at once
  drive_outputs(decided);
  record(acted->outcome);
  record(outcome);
  if (acted->refusal) return reply(declined("refused", *acted->refusal));
  answer_when_recorded(
      JsonObject{}.json("room", room_payload(site_.status(acted->outcome.rooms_changed.front(), now, wall))),
      std::move(reply));
}

void Daemon::answer_when_recorded(JsonObject result, Reply reply) {
  // Answered once: by the commit, or by patience running out (a full disk must not hide that the act counts).
  auto once = std::make_shared<std::atomic<bool>>(false);
  const auto answer = [once, result = std::move(result), reply = std::move(reply)](bool recorded) {
    if (once->exchange(true)) return;
    reply(accepted(JsonObject{result}.flag("recorded", recorded).str()));
  };
  store_->when_committed(answer);
  auto patience = std::make_shared<asio::steady_timer>(loop_, commit_patience);
  patience->async_wait([patience, answer](const boost::system::error_code&) { answer(false); });
}

void Daemon::answer_history(const HistoryRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, request, reply = std::move(reply)] {
    reply(request.of_alarms ? history_answer(alarm_history(dir, request.query))
                            : history_answer(reading_history(dir, request.query)));
  });
}

void Daemon::answer_trend(const TrendRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, query = request.query, reply = std::move(reply)] {
    const auto found = trend(dir, query);
    reply(found ? accepted(trend_payload(*found)) : declined("internal", found.error().what));
  });
}

void Daemon::answer_alarm_report(const AlarmReportRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, query = request.query, reply = std::move(reply)] {
    const auto report = alarm_report_of(dir, query);
    reply(report ? accepted(*report) : declined("internal", report.error().what));
  });
}

void Daemon::answer_recorded(const RecordedRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, request, now = wall_now(), reply = std::move(reply)] {
    reply(recorded_answer(oxygen_at(dir, request.room, request.sensor, request.at.value_or(now))));
  });
}

void Daemon::answer_explain(const ExplainRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, wording = wording_, request, now = wall_now(), reply = std::move(reply)] {
    if (!request.values.empty()) {
      const auto explained = wording.explain_typed(request.values);
      return reply(explained ? accepted(*explained) : declined("refused", explained.error()));
    }
    const auto& wanted = request.recorded;
    auto found = oxygen_at(dir, wanted.room, wanted.sensor, wanted.at.value_or(now));
    if (!found || !*found) return reply(recorded_answer(found));
    reply(accepted(wording.explain_recorded(std::move(**found))));
  });
}

void Daemon::answer_calibrations(const CalibrationsRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, cells = cells_in_use(site_.settings()), request, wording = wording_,
                          now = wall_now(), reply = std::move(reply)] {
    const auto records = calibration_records(dir);
    if (!records) return reply(declined("internal", records.error().what));
    if (!request.in_words) return reply(accepted(calibrations_answer(cells, *records)));
    if (request.cell.empty()) return reply(accepted(wording.all_cells({cells, *records}, now)));
    const auto one = wording.one_cell({cells, *records}, request.cell, now);
    reply(one ? accepted(*one) : declined("unknown", one.error()));
  });
}

void Daemon::answer_certificate(const CertificateRequest& request, Reply reply) {
  asio::post(questions_, [dir = state_dir_, issuer = site_.settings().site.issuer, request, now = wall_now(),
                          reply = std::move(reply)] {
    const auto records = calibration_records(dir);
    if (!records) return reply(declined("internal", records.error().what));
    const auto record = std::ranges::find(*records, request.number, &CalibrationRecord::number);
    if (record == records->end())
      return reply(declined("unknown", fmt::format("there is no record {}", request.number)));
    CertificateOptions options;
    options.head = head_of(issuer);
    options.issued = now;
    options.standing = standing_of(*records, request.number);
    const auto text = request.as_page ? certificate_html(*record, options) : certificate_json(*record, options);
    if (!text) return reply(declined("refused", text.error()));
    reply(accepted(request.as_page ? JsonObject{}.text("html", *text).str() : *text));
  });
}

Surroundings Daemon::surroundings() const {
  Surroundings around;
  around.site = site_.settings().site.name;
  around.version = version;
  around.started = started_;
  {
    const std::lock_guard lock{workers_mutex_};
    for (const auto& worker : workers_) around.buses.emplace_back(worker->name(), worker->health());
  }
  around.outputs = outputs_.health(monotonic_now());
  around.proofs = proofs_;
  if (sinks_.mqtt) around.mqtt = sinks_.mqtt->health();
  if (sinks_.sparkplug) around.sparkplug = sinks_.sparkplug->health();
  if (sinks_.notify) around.notify = sinks_.notify->health();
  if (sinks_.http) around.http = sinks_.http->health();
  around.store = store_->health();
  around.evaluations = site_.evaluations();
  around.polls_dropped = polls_dropped_.load();
  return around;
}

} // namespace oxherd::daemon
