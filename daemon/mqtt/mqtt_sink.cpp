#include "daemon/mqtt/mqtt_sink.hpp"

#include <algorithm>
#include <map>
#include <utility>

#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/mqtt/bounded_thread.hpp"
#include "daemon/mqtt/mqtt_worker.hpp"
#include "daemon/mqtt/packer.hpp"
#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

/// A name as one level of a topic. The configuration permits nothing else; but a wildcard that came through would make
/// the broker hang up on every attempt, and no alarm would reach it any more.
std::string topic_level(std::string name) {
  const auto forbidden = [](char c) { return c < 0x20 || c > 0x7E || c == '+' || c == '#' || c == '/'; };
  std::replace_if(name.begin(), name.end(), forbidden, '_');
  return name;
}

/// What an alarm was announced with, in everything but its value, which changes with every reading; the room's summary
/// carries that.
struct Announced {
  explicit Announced(const AlarmStatus& a)
      : state{a.state}, priority{a.priority}, safety{a.safety}, sounding{a.sounding}, present{a.present},
        first_out{a.first_out}, chattering{a.chattering}, test{a.test}, in_force{a.in_force},
        has_value{a.value.has_value()}, since{a.since}, suppressed_until{a.suppressed_until}, limit{a.limit},
        suppressed_by{a.suppressed_by} {}
  friend bool operator==(const Announced&, const Announced&) = default;

  alarms::State state;
  alarms::Priority priority;
  bool safety, sounding, present, first_out, chattering, test, in_force, has_value;
  WallTime since;
  std::optional<WallTime> suppressed_until;
  std::optional<double> limit;
  std::string suppressed_by;
};

class PahoMqttSink final : public MqttSink {
public:
  PahoMqttSink(const config::Mqtt& settings, const std::string& site, const std::filesystem::path& state_dir,
               std::function<void(const MqttHealth&)> changed, std::optional<std::int64_t> told_to)
      : prefix_{settings.prefix + "/" + topic_level(site)}, packer_{site, settings.pack},
        worker_{std::make_shared<MqttWorker>(settings, topic_level(site), state_dir, std::move(changed), told_to)},
        disk_{"mqtt", [worker = worker_] { worker->run_disk(); }},
        connection_{"mqtt", [worker = worker_] { worker->run(); }} {}
  PahoMqttSink(const PahoMqttSink&) = delete;
  PahoMqttSink& operator=(const PahoMqttSink&) = delete;

  ~PahoMqttSink() override {
    packer_.take_all(packs_);
    publish_packs();
    worker_->stop();
    if (!connection_.ends_within(std::chrono::seconds{2})) // inside the resolver or the library
      log::warning("mqtt: the connection does not end within 2 s; it is left behind");
    worker_->stop_disk(); // then: what could not be sent is stored
    if (!disk_.ends_within(std::chrono::seconds{1}))
      log::error("mqtt: the disk does not answer within 1 s; measurements that wait for the broker may be lost");
  }

  void reading(const ReadingRecord& reading) override {
    packer_.take(reading, now_, packs_);
    publish_packs();
  }

  void alarm(const AlarmRecord& /*record*/, const AlarmSnapshot& /*snapshot*/, const AlarmStatus& status) override {
    announce(status);
  }

  void room(const RoomStatus& room) override {
    auto payload = room_payload(room);
    auto topic = topic_of(room.room, "state");
    worker_->add_for_later([&](Outbox& outbox) { outbox.state(std::move(topic), std::move(payload)); });
    // An alarm that never had a transition must be there to be read, too.
    for (const auto& status : room.alarms) {
      const auto last = announced_.find({status.room, status.alarm});
      if (last == announced_.end() || last->second != Announced{status}) announce(status);
    }
  }

  /// An empty retained message makes the broker forget the topic (MQTT 3.1.1, 3.3.1.3).
  void removed(const std::string& room, const std::string& alarm) override {
    announced_.erase({room, alarm});
    auto topic = alarm.empty() ? topic_of(room, "state") : topic_of(room, "alarms") + "/" + topic_level(alarm);
    worker_->add([&](Outbox& outbox) { outbox.change(std::move(topic), {}); });
  }

  /// Whoever watches from outside learns by its silence that nothing is evaluated any more. Only the latest is ever
  /// sent: one from before an outage would say that all is well.
  void evaluated(std::uint64_t count, alarms::Monotonic now, WallTime wall) override {
    now_ = now;
    packer_.take_due(now, packs_);
    publish_packs();
    beat(count, now, wall);
    worker_->flush();
  }

  [[nodiscard]] MqttHealth health() const override { return worker_->health(); }
  [[nodiscard]] Publish publisher() const override {
    return [worker = worker_](std::string topic, std::string payload, std::function<void(std::string)> done) {
      worker->publish(std::move(topic), std::move(payload), std::move(done));
    };
  }

private:
  [[nodiscard]] std::string topic_of(const std::string& room, const std::string& last) const {
    return prefix_ + "/" + topic_level(room) + "/" + topic_level(last);
  }
  /// All of them at once: waking the thread costs more than a message.
  void publish_packs() {
    if (packs_.empty()) return;
    worker_->add([&](Outbox& outbox) {
      for (auto& pack : packs_) outbox.measurement(topic_of(pack.room, pack.sensor), std::move(pack.payload));
    });
    packs_.clear();
  }
  void beat(std::uint64_t count, alarms::Monotonic now, WallTime wall) {
    constexpr std::chrono::seconds heartbeat_period{10};
    if (next_heartbeat_ && now < *next_heartbeat_) return;
    next_heartbeat_ = now + heartbeat_period;
    auto payload =
        JsonObject{}.integer("evaluations", static_cast<std::int64_t>(count)).text("at", rfc3339(wall)).str();
    worker_->add_for_later([&](Outbox& outbox) { outbox.state(prefix_ + "/heartbeat", std::move(payload)); });
  }
  void announce(const AlarmStatus& status) {
    announced_.insert_or_assign({status.room, status.alarm}, Announced{status});
    auto payload = alarm_payload(status);
    auto topic = topic_of(status.room, "alarms") + "/" + topic_level(status.alarm);
    worker_->add([&](Outbox& outbox) { outbox.change(std::move(topic), std::move(payload)); });
  }

  const std::string prefix_;
  Packer packer_;                                                      ///< this and the next two: decision thread only
  std::vector<Packer::Pack> packs_;                                    ///< complete, to be published in a moment
  alarms::Monotonic now_{0};                                           ///< of the last evaluation
  std::map<std::pair<std::string, std::string>, Announced> announced_; ///< by room and alarm; decision thread only
  std::optional<alarms::Monotonic> next_heartbeat_;
  std::shared_ptr<MqttWorker> worker_;
  BoundedThread disk_, connection_; // last: the threads see a finished object
};

} // namespace

MqttSink::~MqttSink() = default;

std::unique_ptr<MqttSink> MqttSink::start(const config::Mqtt& settings, const std::string& site,
                                          const std::filesystem::path& state_dir,
                                          std::function<void(const MqttHealth&)> changed,
                                          std::optional<std::int64_t> told_to) {
  return std::make_unique<PahoMqttSink>(settings, site, state_dir, std::move(changed), told_to);
}

} // namespace oxherd::daemon
