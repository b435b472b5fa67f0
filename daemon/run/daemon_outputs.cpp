// Outputs: written, confirmed and proved.
#include <utility>

#include "daemon/clock.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/run/daemon.hpp"
#include "daemon/store/history.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using std::chrono::milliseconds;

std::string proof_answer(const OutputKeeper& outputs, std::size_t output, const ProofNote& note) {
  return JsonObject{}
      .text("output", outputs.settings(output).name)
      .text("event", note.event)
      .text("text", note.text)
      .str();
}

} // namespace

std::map<std::string, ProofRecord> load_proofs(const std::filesystem::path& state_dir,
                                               const config::Settings& settings) {
  HistoryQuery query;
  query.alarm_prefix = journal_name_of({});
  query.from = WallTime{milliseconds{0}};
  query.to = WallTime::max(); // a clock that was set back hides none
  query.limit = query_limit_max;
  const auto found = alarm_history(state_dir, query);
  if (!found) {
    log::error("the proof tests of outputs cannot be read, all count as never proved: {}", found.error().what);
    return {};
  }
  std::map<std::string, ProofRecord> by_journal_name, proofs;
  for (const auto& record : found->records) by_journal_name[record.alarm].take(record);
  for (const auto& output : settings.outputs)
    if (const auto proved = by_journal_name.find(journal_name_of(output.name));
        proved != by_journal_name.end() && config::is_provable(output.kind))
      proofs[output.name] = proved->second;
  return proofs;
}

void Daemon::drive_outputs(std::chrono::steady_clock::time_point decided) {
  if (stopping_) return;
  const std::lock_guard lock{workers_mutex_};
  if (workers_.empty()) return; // between two configurations; the outputs' own time-out covers it
  for (const auto& write : outputs_.due(site_, monotonic_now(), decided))
    for (const auto& worker : workers_)
      if (worker->name() == write.bus) worker->write(write.what);
}

void Daemon::drop(const std::vector<GivenUp>& given_up) {
  dropping_.clear();
  const std::lock_guard lock{workers_mutex_};
  for (const auto& output : given_up) {
    log::warning("{}", to_string(output));
    dropping_[output.drop.output] = output.what;
    for (const auto& worker : workers_)
      if (worker->name() == output.bus) worker->write(output.drop);
  }
}

void Daemon::on_written(const WriteResult& result) {
  if (const auto given_up = dropping_.find(result.output); given_up != dropping_.end())
    return note_fault("drop of " + given_up->second, result.error, log::Level::error);
  outputs_.written(result, monotonic_now());
  note_fault("output " + outputs_.settings(result.output).name, result.error ? result.error : result.asking_error,
             log::Level::error);
  if (!stopping_) return;
  const auto awaited = trips_awaited_.find(result.output);
  if (awaited == trips_awaited_.end() || !took_drop(result, awaited->second)) return;
  trips_awaited_.erase(awaited);
  if (trips_awaited_.empty()) loop_.stop();
}

void Daemon::note_proof(const ProofNote& note, WallTime wall) {
  const auto& rooms = outputs_.rooms(note.output);
  AlarmRecord record;
  record.at = wall;
  record.room = rooms.empty() ? std::string{} : site_.settings().rooms[rooms.front()].name;
  record.alarm = journal_name_of(outputs_.settings(note.output).name);
  record.event = note.event;
  record.cause = "test";
  record.author = note.by;
  record.comment = note.comment;
  record.priority = alarms::Priority::low;
  record.text = note.text;
  record = site_.numbered(std::move(record));
  tell_untold();
  store_->alarm(record, {}, {}); // a line of the journal about no alarm
  log::warning("{} by {}{}{}", record.text, record.author, record.comment.empty() ? "" : ": ", record.comment);
  proofs_[outputs_.settings(note.output).name].take(record);
}

void Daemon::answer_prove(const ProveRequest& request, Reply reply) {
  const auto output = outputs_.find(request.output);
  if (!output)
    return reply(declined("unknown", "there is no output " + request.output + ": `oxherd status` lists them"));
  const auto decided = std::chrono::steady_clock::now();
  const auto now = monotonic_now();
  const auto duration = request.duration == alarms::Monotonic{0} ? proof_by_default : request.duration;
  const auto note = request.step == ProveRequest::Step::begin
                        ? outputs_.begin_proof(*output, request.author, duration, site_, now)
                        : outputs_.answer_proof(*output, request.step == ProveRequest::Step::worked, request.author,
                                                request.comment, now);
  if (!note) return reply(declined("refused", note.error()));
  drive_outputs(decided);
  note_proof(*note, wall_now());
  answer_when_recorded(JsonObject{}.json("proof", proof_answer(outputs_, *output, *note)), std::move(reply));
}

} // namespace oxherd::daemon
