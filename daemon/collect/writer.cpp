#include "daemon/collect/writer.hpp"

#include <algorithm>
#include <iterator>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon::collect {
namespace {

constexpr std::chrono::milliseconds turn_at_most{500};
constexpr std::chrono::seconds quiet_most{10};
constexpr std::chrono::milliseconds retry_least{200}, retry_most{10'000};
/// Topics of which the log says once that they carry nonsense. Beyond, they are counted only.
constexpr std::size_t topics_told_most = 1000;

/// The words without their numbers: a full disk names another file at each try, and is still the same trouble.
std::string kind_of(const std::string& trouble) {
  std::string kind;
  std::copy_if(trouble.begin(), trouble.end(), std::back_inserter(kind), [](char c) { return c < '0' || c > '9'; });
  return kind;
}

} // namespace

Writer::Writer(const CollectSettings& settings, Inbox& inbox, std::function<void(std::vector<Delivery>)> acknowledge)
    : settings_{settings}, inbox_{inbox}, acknowledge_{std::move(acknowledge)} {}

void Writer::run() {
  // Not only when something comes: a wrong password is to be told at once, and the page needs the tables.
  if (!write_at_last({})) return;
  for (;;) {
    auto batch = inbox_.take(turn_at_most);
    ++progress_;
    {
      const std::lock_guard hold{mutex_};
      if (stopping_ && batch.empty()) return;
    }
    if (batch.empty()) {
      if (std::chrono::steady_clock::now() - asked_ >= quiet_most && !write_at_last({})) return;
      continue;
    }
    if (!write_at_last(understood(batch))) return; // nothing of it is acknowledged: it comes again
    acknowledge_(std::move(batch));
    const std::lock_guard hold{mutex_};
    if (stopping_) return;
  }
}

bool Writer::write_at_last(const std::vector<Heard>& heard) {
  while (!write(heard))
    if (!pause()) return false;
  return true;
}

std::vector<Heard> Writer::understood(const std::vector<Delivery>& batch) {
  std::vector<Heard> heard;
  heard.reserve(batch.size());
  for (const auto& one : batch) {
    auto told = take_apart(settings_.mqtt.prefix, one.topic, one.payload, one.at);
    if (!told) {
      note_malformed(one.topic, told.error());
      continue;
    }
    if (const auto* samples = std::get_if<Samples>(&told->what); samples != nullptr && samples->without_use > 0) {
      const std::lock_guard hold{mutex_};
      if (health_.without_use == 0)
        log::error(
            "samples on {} have a time at which nobody can have measured; they are left out: look at the clock of "
            "that site",
            one.topic);
      health_.without_use += samples->without_use;
    }
    heard.push_back({std::move(*told), one.retained, one.at});
  }
  return heard;
}

bool Writer::write(const std::vector<Heard>& heard) {
  ++progress_;
  asked_ = std::chrono::steady_clock::now();
  if (!historian_) {
    auto opened = Historian::open(settings_.database);
    if (!opened) {
      note_trouble(opened.error().what);
      return false;
    }
    historian_ = std::move(*opened);
  }
  const auto written = historian_->write(heard);
  if (written) {
    note_trouble({});
    const std::lock_guard hold{mutex_};
    health_.last_commit = wall_now();
    committed_ = std::chrono::steady_clock::now();
    health_.stored += written->samples;
    health_.again += written->again;
    if (health_.differing == 0 && written->differing > 0)
      log::warning(
          "samples came that differ from what is stored of the same channel and time; the first stays, and the "
          "others are counted");
    health_.differing += written->differing;
    return true;
  }
  if (!written.error().by_content) {
    note_trouble(written.error().what);
    historian_.reset();
    return false;
  }
  if (heard.size() == 1) { // one message that the database refuses must not stop all others
    note_malformed(heard.front().told.site, written.error().what);
    return true;
  }
  const auto middle = heard.begin() + static_cast<std::ptrdiff_t>(heard.size() / 2);
  return write({heard.begin(), middle}) && write({middle, heard.end()});
}

void Writer::note_malformed(const std::string& topic, const std::string& why) {
  const std::lock_guard hold{mutex_};
  ++health_.malformed;
  if (malformed_topics_.size() < topics_told_most && malformed_topics_.insert(topic).second)
    log::error("a message on {} cannot be used and is left out: {}; more of this topic are counted only", topic, why);
}

void Writer::note_trouble(const std::string& trouble) {
  const std::lock_guard hold{mutex_};
  if (!trouble.empty() && kinds_of_trouble_.insert(kind_of(trouble)).second)
    log::error(
        "the database does not take what comes; nothing is acknowledged to the broker, and it is tried again: {}",
        trouble);
  if (trouble.empty() && !health_.writing)
    log::info("the database takes what comes{}", health_.trouble.empty() ? "" : " again");
  health_.writing = trouble.empty();
  health_.trouble = trouble;
  if (!trouble.empty()) return;
  kinds_of_trouble_.clear();
  pause_ = {};
}

bool Writer::pause() {
  std::unique_lock hold{mutex_};
  pause_ = std::clamp(pause_ * 2, retry_least, retry_most);
  const auto end = std::chrono::steady_clock::now() + pause_;
  while (!stopping_ && std::chrono::steady_clock::now() < end) {
    ++progress_;
    wake_.wait_until(hold, std::min(end, std::chrono::steady_clock::now() + turn_at_most),
                     [this] { return stopping_; });
  }
  return !stopping_;
}

void Writer::stop() {
  const std::lock_guard hold{mutex_};
  stopping_ = true;
  wake_.notify_all();
  inbox_.stop();
}

WriterHealth Writer::health() const {
  const std::lock_guard hold{mutex_};
  auto health = health_;
  health.waiting = inbox_.waiting();
  health.commit_age =
      std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() - committed_);
  return health;
}

} // namespace oxherd::daemon::collect
