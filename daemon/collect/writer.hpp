#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/collect/historian.hpp"
#include "daemon/collect/inbox.hpp"
#include "daemon/collect/settings.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon::collect {

/// What was done since the start.
struct WriterHealth {
  bool writing = false;                ///< the database took what came last
  std::string trouble;                 ///< why not, in words
  std::uint64_t stored = 0;            ///< samples
  std::uint64_t again = 0;             ///< samples that were there already
  std::uint64_t differing = 0;         ///< samples left out: another value stands at their time
  std::uint64_t malformed = 0;         ///< messages that cannot be understood, or that the database refuses: left out
  std::uint64_t without_use = 0;       ///< samples left out: nobody can have measured then
  std::uint64_t waiting = 0;           ///< messages in memory
  std::optional<WallTime> last_commit; ///< when the database confirmed something
  std::chrono::milliseconds commit_age{0}; ///< since then, whatever the clock was set to
};

/// Takes messages from the inbox, writes them to the database and has them acknowledged, in this order: what is
/// acknowledged is stored. While the database is away it tries again and acknowledges nothing. Whether it is there is
/// asked every ten seconds when nothing comes. `run` belongs to a
/// thread of its own, the rest may be called from any.
class Writer {
public:
  Writer(const CollectSettings& settings, Inbox& inbox, std::function<void(std::vector<Delivery>)> acknowledge);

  void run(); ///< returns after stop(), when what is being written is
  void stop();
  [[nodiscard]] WriterHealth health() const;
  [[nodiscard]] std::uint64_t progress() const { return progress_.load(); }

private:
  [[nodiscard]] std::vector<Heard> understood(const std::vector<Delivery>& batch);
  [[nodiscard]] bool write(const std::vector<Heard>& heard);
  void note_malformed(const std::string& topic, const std::string& why);
  void note_trouble(const std::string& trouble);
  [[nodiscard]] bool write_at_last(const std::vector<Heard>& heard); ///< false: stop came before it was written
  [[nodiscard]] bool pause();                                        ///< false: stop came meanwhile

  const CollectSettings settings_;
  Inbox& inbox_;
  const std::function<void(std::vector<Delivery>)> acknowledge_;
  std::unique_ptr<Historian> historian_;
  std::set<std::string> malformed_topics_, kinds_of_trouble_; ///< told in the log; the latter since all was well
  std::chrono::milliseconds pause_{0};
  std::chrono::steady_clock::time_point asked_; ///< when the database was asked last
  std::atomic<std::uint64_t> progress_{0};
  mutable std::mutex mutex_; ///< guards the four below
  std::condition_variable wake_;
  WriterHealth health_;
  std::chrono::steady_clock::time_point committed_;
  bool stopping_ = false;
};

} // namespace oxherd::daemon::collect
