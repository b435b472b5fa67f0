#include "daemon/sparkplug/sink.hpp"

#include <chrono>
#include <utility>

#include "daemon/log.hpp"
#include "daemon/mqtt/bounded_thread.hpp"
#include "daemon/sparkplug/worker.hpp"

namespace oxherd::daemon::sparkplug {
namespace {

class ThreadedSink final : public SparkplugSink {
public:
  ThreadedSink(const config::Mqtt& settings, const std::string& site, Plan plan, const std::filesystem::path& state_dir)
      : worker_{std::make_shared<Worker>(settings, site, std::move(plan), state_dir)},
        thread_{"sparkplug", [worker = worker_] { worker->run(); }} {}
  ThreadedSink(const ThreadedSink&) = delete;
  ThreadedSink& operator=(const ThreadedSink&) = delete;

  ~ThreadedSink() override {
    worker_->stop();
    if (!thread_.ends_within(std::chrono::seconds{2})) // inside the resolver, the library or the disk
      log::warning("sparkplug: the connection does not end within 2 s; it is left behind");
  }

  void reading(const ReadingRecord& reading) override {
    worker_->tell([&](EdgeNode& node) { node.take(reading, now_); }); // goes out with the evaluation at the latest
  }
  void alarm(const AlarmRecord& record, const AlarmSnapshot& /*snapshot*/, const AlarmStatus& status) override {
    worker_->tell([&](EdgeNode& node) { node.take(status, record.at, now_); });
    worker_->wake();
  }
  void room(const RoomStatus& room) override {
    worker_->tell([&](EdgeNode& node) { node.take(room, now_); });
    worker_->wake();
  }
  void evaluated(std::uint64_t count, alarms::Monotonic now, WallTime wall) override {
    now_ = now;
    worker_->tell([&](EdgeNode& node) { node.evaluated(count, now, wall); });
    worker_->evaluated();
  }
  [[nodiscard]] Health health() const override { return worker_->health(); }

private:
  alarms::Monotonic now_{0}; ///< of the last evaluation; decision thread only
  std::shared_ptr<Worker> worker_;
  BoundedThread thread_; // last: it sees a finished object
};

} // namespace

SparkplugSink::~SparkplugSink() = default;

std::unique_ptr<SparkplugSink> SparkplugSink::start(const config::Mqtt& settings, const std::string& site, Plan plan,
                                                    const std::filesystem::path& state_dir) {
  return std::make_unique<ThreadedSink>(settings, site, std::move(plan), state_dir);
}

} // namespace oxherd::daemon::sparkplug
