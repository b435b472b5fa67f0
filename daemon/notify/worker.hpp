#pragma once

#include <atomic>
#include <deque>
#include <filesystem>
#include <functional>
#include <mutex>
#include <variant>

#include "daemon/notify/archive.hpp"
#include "daemon/notify/courier.hpp"
#include "daemon/notify/escalation.hpp"
#include "daemon/notify/health.hpp"
#include "daemon/notify/pending.hpp"
#include "daemon/notify/words.hpp"

namespace oxherd::daemon::notify {

/// What the worker goes by; a reload gives it another.
struct Setup {
  config::Notify settings;
  std::optional<config::Watcher> watcher;
  Sender sender;
  Publish publish; ///< by the broker; empty without one
};

/// A result for whoever asked: JSON, or a sentence that says why not. Called on the worker's thread.
using Answer = std::function<void(tl::expected<std::string, std::string>)>;

struct AlarmTold {
  Facts facts;
};
struct AlarmRemoved {
  std::string room, alarm;
};
struct TestAsked {
  std::string contact; ///< empty: all
  Answer answer;
};
struct TestAnswered {
  std::int64_t number = 0;
  std::string by;
  Answer answer;
};
using Event = std::variant<AlarmTold, AlarmRemoved, Setup, TestAsked, TestAnswered>;

/// What the sink's thread does: escalate, save, deliver, beat. `run` belongs to that thread, the rest may be called
/// from any. The lock is held for moments only.
class Worker {
public:
  Worker(Setup setup, std::filesystem::path state_dir);

  /// Returns after stop(), or when an exception has ended it: that stands in the log and in `health`.
  void run();
  void stop();
  void post(Event event, Now at);
  void evaluated(std::uint64_t count) { evaluations_ = count; }
  /// As of the last turn; in trouble when that was completed too long before `now`.
  [[nodiscard]] NotifyHealth health(Monotonic now) const;

private:
  /// One contact by one route: failing since, and how the last delivery went.
  struct Line {
    std::optional<Monotonic> failing_since;
    std::string trouble;
    Monotonic worked_at{0}; ///< last, in this run
    std::optional<WallTime> last_delivered;
  };
  struct RouteCount {
    bool reported = false;
    std::uint64_t delivered = 0, given_up = 0;
  };
  struct Queued {
    Event event;
    Now at;
  };

  void turns();
  void ended_by(const std::string& what);
  void open();
  void take_events();
  void handle(AlarmTold& event, Now at);
  void handle(AlarmRemoved& event, Now at);
  void handle(Setup& event, Now at);
  void handle(TestAsked& event, Now at);
  void handle(TestAnswered& event, Now at);
  void adopt(Step step);
  void pack(const Message& message);
  void bound();
  void save();
  void start_due(Now now);
  void note_starved(Now now);
  void give_up_old(Now now);
  void beat(Now now);
  void settle(const Attempt& attempt, Now now);
  void settle_beat(const Attempt& attempt, Now now);
  void note_failure(const Pending& pending, Monotonic since, Now now);
  void note_delivery(const Pending& pending, Now now);
  void give_up(const Pending& pending, const std::string& why, Now now);
  void publish_health();
  [[nodiscard]] std::chrono::milliseconds patience(Now now) const;
  [[nodiscard]] const config::NotifyRoute* route_named(const std::string& name) const;
  [[nodiscard]] const config::Contact* contact_named(const std::string& name) const;

  Setup setup_; ///< from here on: the thread's own
  Archive archive_;
  State state_;
  std::deque<Pending> pending_;
  std::vector<Parcel> to_add_; ///< these three wait to be saved
  std::vector<Settled> to_settle_;
  bool to_save_ = false;
  std::string archive_trouble_;
  std::int64_t last_key_ = 0;
  std::map<std::pair<std::string, std::string>, Line> lines_; ///< by route and contact
  std::map<std::string, RouteCount> routes_;
  std::string host_name_;
  Monotonic next_beat_{0}, next_save_{0};
  std::uint64_t beaten_ = 0;
  bool beating_ = false;
  WatcherHealth watcher_;
  Courier courier_; ///< but for wake()

  std::atomic<std::uint64_t> evaluations_{0};
  std::atomic<bool> stopping_{false};
  std::atomic<Monotonic> turned_; ///< when the last turn was completed
  mutable std::mutex lock_;       ///< guards the two below
  std::deque<Queued> inbox_;
  NotifyHealth health_;
};

} // namespace oxherd::daemon::notify
