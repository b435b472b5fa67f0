#include "daemon/notify/notify_sink.hpp"

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/named_thread.hpp"
#include "daemon/room/persons_unit.hpp"

namespace oxherd::daemon {
namespace {

notify::Setup setup_of(const config::Settings& settings, Publish publish) {
  notify::Setup setup;
  setup.settings = settings.notify.value_or(config::Notify{});
  setup.watcher = settings.watcher;
  setup.sender = {settings.site.name, setup.settings.zone, settings.site.issuer.owner};
  setup.publish = std::move(publish);
  return setup;
}

notify::About about(const config::AlarmSettings& settings) {
  using config::AlarmQuantity;
  if (settings.quantity == AlarmQuantity::monitoring) return notify::About::not_monitored;
  const auto* limit = std::get_if<alarms::Limit>(&settings.alarm.rule);
  if (limit == nullptr) return notify::About::other;
  const bool low = limit->direction == alarms::Direction::low;
  if (settings.quantity == AlarmQuantity::carbon_dioxide)
    return low ? notify::About::other : notify::About::high_carbon_dioxide;
  return low ? notify::About::low_oxygen : notify::About::other;
}

notify::Now now_of_clocks() { return {monotonic_now(), wall_now()}; }

} // namespace

notify::Facts facts_of(const AlarmStatus& status, const config::AlarmSettings* settings) {
  notify::Facts f;
  f.room = status.room;
  f.alarm = status.alarm;
  f.state = status.state;
  f.priority = status.priority;
  f.safety = status.safety;
  f.present = status.present;
  f.first_out = status.first_out;
  f.chattering = status.chattering;
  f.test = status.test;
  f.raised = status.raised;
  f.value = status.value;
  f.expanded = status.expanded;
  f.limit = status.limit;
  f.unit = status.unit;
  f.text = status.text;
  if (settings == nullptr) return f;
  f.about = about(*settings);
  auto unit = persons_unit(*settings);
  unit.named = true;
  if (alarms::limit_in(settings->alarm.rule) == nullptr) return f; // a room that is not monitored has no number
  if (status.value) f.value_text = in_persons_unit(unit, *status.value);
  if (status.value && status.expanded)
    f.value_text += fmt::format(" ± {} (k = {:g})", in_persons_unit(unit, *status.expanded), status.coverage_factor);
  if (status.limit) f.limit_text = as_a_person_wrote_it(unit, *status.limit);
  return f;
}

NotifySink::NotifySink(const config::Settings& settings, const std::filesystem::path& state_dir, Publish publish)
    : worker_{std::make_shared<notify::Worker>(setup_of(settings, std::move(publish)), state_dir)} {
  index(settings);
  std::packaged_task<void()> work{[worker = worker_] { worker->run(); }};
  finished_ = work.get_future();
  thread_ = named_thread("notify", std::move(work)); // last: the thread sees a finished object
}

NotifySink::~NotifySink() {
  worker_->stop();
  if (finished_.wait_for(std::chrono::seconds{2}) == std::future_status::ready) {
    thread_.join();
    return;
  }
  // Inside a disk or a directory that does not answer. What the thread uses is its own.
  log::warning("notify: the thread does not end within 2 s; it is left behind");
  thread_.detach();
}

void NotifySink::index(const config::Settings& settings) {
  alarms_.clear();
  for (const auto& room : settings.rooms)
    for (const auto& alarm : room.alarms) alarms_.insert_or_assign({room.name, alarm.name}, alarm);
}

void NotifySink::configure(const config::Settings& settings, Publish publish) {
  index(settings);
  worker_->post(setup_of(settings, std::move(publish)), now_of_clocks());
}

void NotifySink::tell(const AlarmStatus& status) {
  const auto found = alarms_.find({status.room, status.alarm});
  worker_->post(notify::AlarmTold{facts_of(status, found == alarms_.end() ? nullptr : &found->second)},
                now_of_clocks());
}

void NotifySink::alarm(const AlarmRecord& /*record*/, const AlarmSnapshot& /*snapshot*/, const AlarmStatus& status) {
  tell(status);
}
void NotifySink::standing(const AlarmStatus& status) { tell(status); }

void NotifySink::removed(const std::string& room, const std::string& alarm) {
  if (!alarm.empty()) worker_->post(notify::AlarmRemoved{room, alarm}, now_of_clocks());
}

void NotifySink::evaluated(std::uint64_t count, alarms::Monotonic /*now*/, WallTime /*wall*/) {
  worker_->evaluated(count);
}

notify::NotifyHealth NotifySink::health() const { return worker_->health(monotonic_now()); }

void NotifySink::test(const std::string& contact, notify::Answer answer) {
  worker_->post(notify::TestAsked{contact, std::move(answer)}, now_of_clocks());
}
void NotifySink::answer_test(std::int64_t number, const std::string& by, notify::Answer answer) {
  worker_->post(notify::TestAnswered{number, by, std::move(answer)}, now_of_clocks());
}

} // namespace oxherd::daemon
