#pragma once

#include <filesystem>
#include <thread>

#include "daemon/collect/broker_reader.hpp"
#include "daemon/collect/inbox.hpp"
#include "daemon/collect/roll_up.hpp"
#include "daemon/collect/settings.hpp"
#include "daemon/collect/writer.hpp"

namespace oxherd::daemon::collect {

struct CollectHealth {
  BrokerHealth broker;
  WriterHealth writer;
  std::string roll_up_trouble;
};

/// From the broker into the database: a thread that reads, one that writes, one that rolls up. Runs from its making to
/// its end, which takes seconds at most; what is not stored then comes again at the next start.
class Collector {
public:
  explicit Collector(const CollectSettings& settings);
  ~Collector();
  Collector(const Collector&) = delete;
  Collector& operator=(const Collector&) = delete;

  [[nodiscard]] CollectHealth health() const;   ///< any thread
  [[nodiscard]] std::uint64_t progress() const; ///< grows while the writer is alive; any thread

private:
  Inbox inbox_;
  BrokerReader reader_;
  Writer writer_;
  RollUpWorker roll_up_;
  std::thread write_thread_, roll_up_thread_;
};

/// Runs with its page until SIGTERM or SIGINT.
/// @param state_dir  where the users of the page are
void run_collector(const CollectSettings& settings, const std::filesystem::path& state_dir);

} // namespace oxherd::daemon::collect
