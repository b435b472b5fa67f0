#include "daemon/log.hpp"

#include <cerrno>
#include <cstdlib>
#include <ctime>
#include <future>
#include <mutex>
#include <string_view>
#include <thread>
#include <utility>

#include <sys/stat.h>
#include <unistd.h>

#include <spdlog/async_logger.h>
#include <spdlog/details/null_mutex.h>
#include <spdlog/details/thread_pool.h>
#include <spdlog/pattern_formatter.h>
#include <spdlog/sinks/base_sink.h>

namespace oxherd::daemon::log {
namespace {

constexpr std::size_t queue_lines = 8192;
constexpr std::chrono::seconds flush_at_most{1};

/// Writes lines to the descriptor itself: a lock of stdio held by a stuck write would hang the exit of the process.
/// Used by one thread, which is also the one to tell how many lines were lost: it knows when stderr takes lines again.
class StderrSink final : public spdlog::sinks::base_sink<spdlog::details::null_mutex> {
public:
  /// The queue whose losses are to be told; it outlives its own thread, which alone uses this.
  void watch(spdlog::details::thread_pool& pool) { pool_ = &pool; }

private:
  void sink_it_(const spdlog::details::log_msg& msg) override {
    tell_losses();
    put(msg);
  }
  void tell_losses() {
    const std::uint64_t lost = pool_ != nullptr ? pool_->overrun_counter() : 0;
    if (lost == told_ || pool_->queue_size() > queue_lines / 2) return; // while it overflows there is more to come
    const std::string text = fmt::format("{} log lines were lost: stderr did not take them", lost - told_);
    told_ = lost;
    put({"oxherd", spdlog::level::warn, text});
  }
  void put(const spdlog::details::log_msg& msg) {
    spdlog::memory_buf_t line;
    formatter_->format(msg, line);
    for (std::string_view rest{line.data(), line.size()}; !rest.empty();) {
      const ssize_t written = ::write(STDERR_FILENO, rest.data(), rest.size());
      if (written < 0 && errno != EINTR) return; // nobody to tell
      if (written > 0) rest.remove_prefix(static_cast<std::size_t>(written));
    }
  }
  void flush_() override {}

  spdlog::details::thread_pool* pool_ = nullptr;
  std::uint64_t told_ = 0;
};

/// The priority prefix of journald, "<3>" for an error.
class PriorityFlag final : public spdlog::custom_flag_formatter {
  void format(const spdlog::details::log_msg& msg, const std::tm&, spdlog::memory_buf_t& out) override {
    const std::string_view prefix = msg.level >= spdlog::level::err    ? "<3>"
                                    : msg.level == spdlog::level::warn ? "<4>"
                                    : msg.level == spdlog::level::info ? "<6>"
                                                                       : "<7>";
    out.append(prefix.data(), prefix.data() + prefix.size());
  }
  [[nodiscard]] std::unique_ptr<custom_flag_formatter> clone() const override {
    return std::make_unique<PriorityFlag>();
  }
};

/// JOURNAL_STREAM names the device and inode of the stream that leads to the journal. It is inherited, so a stderr that
/// was sent elsewhere since has others.
bool stderr_is_the_journal() {
  const char* named = std::getenv("JOURNAL_STREAM");
  struct stat now {};
  if (named == nullptr || ::fstat(STDERR_FILENO, &now) != 0) return false;
  return fmt::format("{}:{}", now.st_dev, now.st_ino) == named;
}

std::shared_ptr<StderrSink> make_sink() {
  auto formatter = std::make_unique<spdlog::pattern_formatter>(spdlog::pattern_time_type::utc, "\n");
  formatter->add_flag<PriorityFlag>('N').set_pattern(stderr_is_the_journal() ? "%N%v" : "%Y-%m-%dT%H:%M:%S.%eZ %l %v");
  auto sink = std::make_shared<StderrSink>();
  sink->set_formatter(std::move(formatter));
  return sink;
}

spdlog::level::level_enum native(Level level) {
  switch (level) {
  case Level::debug: return spdlog::level::debug;
  case Level::info: return spdlog::level::info;
  case Level::warning: return spdlog::level::warn;
  case Level::error: return spdlog::level::err;
  }
  std::abort();
}

/// A running log: its thread, queue and logger.
struct Running {
  Running() { sink->watch(*pool); }

  std::shared_ptr<spdlog::details::thread_pool> pool = std::make_shared<spdlog::details::thread_pool>(queue_lines, 1);
  std::shared_ptr<StderrSink> sink = make_sink();
  std::shared_ptr<spdlog::async_logger> logger =
      std::make_shared<spdlog::async_logger>("oxherd", sink, pool, spdlog::async_overflow_policy::overrun_oldest);
};

std::mutex running_mutex;
std::shared_ptr<Running> running; // guarded by running_mutex, which is held for a copy only
std::uint64_t dropped_before = 0; // by logs stopped since; guarded alike
bool stuck = false;               // stop() gave up: later lines would block; guarded alike

/// One message stays one line: a line feed in a device's or a client's words could forge another line.
std::string one_line(std::string text) {
  for (char& c : text)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
  return text;
}

/// Ends a log in a thread of its own and waits a second for it: while stderr is stuck it does not end.
bool finish(std::shared_ptr<Running> log) {
  std::promise<void> ended;
  auto done = ended.get_future();
  std::thread{[log = std::move(log), ended = std::move(ended)]() mutable {
    while (log.use_count() > 1) std::this_thread::yield(); // a caller of write() still holds it, for microseconds
    log->pool.reset();                                     // joins the writing thread once it has written all
    log.reset();
    ended.set_value();
  }}.detach();
  return done.wait_for(flush_at_most) == std::future_status::ready;
}

} // namespace

void start(Level lowest) {
  stop();
  ::tzset(); // here, before there is a second thread: the zone is read once, and time stamps use it from every thread
  auto log = std::make_shared<Running>();
  log->logger->set_level(native(lowest));
  const std::scoped_lock lock{running_mutex};
  running = std::move(log);
  stuck = false;
}

void stop() {
  std::shared_ptr<Running> log;
  {
    const std::scoped_lock lock{running_mutex};
    log = std::exchange(running, nullptr);
    if (!log) return;
    dropped_before += log->pool->overrun_counter();
  }
  const bool flushed = finish(std::move(log));
  const std::scoped_lock lock{running_mutex};
  stuck = !flushed;
}

std::uint64_t dropped() {
  const std::scoped_lock lock{running_mutex};
  return dropped_before + (running ? running->pool->overrun_counter() : 0);
}

void write(Level level, fmt::string_view format, fmt::format_args args) {
  std::shared_ptr<Running> log;
  {
    const std::scoped_lock lock{running_mutex};
    if (stuck) return;
    log = running;
  }
  if (!log) { // not started, or stopped: straight to stderr
    spdlog::logger plain{"oxherd", make_sink()};
    plain.log(native(level), one_line(fmt::vformat(format, args)));
    return;
  }
  if (!log->logger->should_log(native(level))) return;
  log->logger->log(native(level), one_line(fmt::vformat(format, args)));
}

} // namespace oxherd::daemon::log
