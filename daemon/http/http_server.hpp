#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "config/settings.hpp"
#include "daemon/identity/users.hpp"
#include "daemon/sink.hpp"

namespace oxherd::daemon::http {

/// Hands one request line to the decision loop; `reply` comes once, from any thread.
using Ask = std::function<void(std::string line, std::function<void(std::string)> reply)>;

/// Hands something about users to the journal, from any thread. What it has already is not taken again.
using Note = std::function<void(identity::UserNote note)>;

/// What the server asks of the decision loop.
struct DecisionLoop {
  Ask ask;
  Note note;
  bool only_shows = false; ///< the historian of many sites, which orders nothing: the page is to offer no acts
  std::function<std::string()> unwell =
      nullptr; ///< for /healthz: why it is not well, in words; any thread. None: it is
};

struct HttpHealth {
  std::string address; ///< "http://127.0.0.1:8120"
  bool listening = false;
  std::string trouble; ///< why it does not, and what to do
  std::size_t sessions = 0, streams = 0;
  std::optional<WallTime> certificate_until; ///< absent without TLS
};

/// The page and the interface for programs, on a thread of its own. The decision loop gives it copies and is asked
/// through `DecisionLoop`, a bounded number of questions at a time; nothing here can delay a decision. A port that
/// cannot be had is tried again every ten seconds.
class HttpServer : public Sink {
public:
  HttpServer(config::Http settings, const std::string& site, const std::filesystem::path& state_dir, DecisionLoop loop);
  ~HttpServer() override;
  HttpServer(const HttpServer&) = delete;
  HttpServer& operator=(const HttpServer&) = delete;

  void reading(const ReadingRecord& reading) override;
  void alarm(const AlarmRecord& record, const AlarmSnapshot& snapshot, const AlarmStatus& status) override;
  void level(const RoomLevel& level) override;
  void room(const RoomStatus& room) override;
  void removed(const std::string& room, const std::string& alarm) override;
  void evaluated(std::uint64_t count, alarms::Monotonic now, WallTime wall) override;

  /// A room as JSON, from who has it so already. Any thread.
  void room_told(const std::string& room, std::string json);
  [[nodiscard]] HttpHealth health() const; ///< any thread

private:
  class Worker;
  std::shared_ptr<Worker> worker_;
  alarms::Monotonic beat_due_{0};
};

} // namespace oxherd::daemon::http
