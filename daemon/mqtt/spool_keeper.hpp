#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>

#include "daemon/mqtt/disk_order.hpp"
#include "daemon/mqtt/spool.hpp"
#include "daemon/store/history.hpp"

namespace oxherd::daemon {

/// Carries out what the outbox wants of the disk: at least once a second, and at once when it is poked. A disk that
/// hangs holds up this thread alone. `run` belongs to that thread, the rest may be called from any.
class SpoolKeeper {
public:
  /// Where the orders come from and what came of them goes. Called on the keeper's thread, without a lock of its own.
  struct Desk {
    std::function<DiskOrder()> order;
    std::function<bool(DiskOutcome)> report; ///< whether another order is worth its while at once
  };
  /// @param told_to  see MqttSink::start
  SpoolKeeper(const std::filesystem::path& state_dir, std::size_t rows_max, Desk desk,
              std::optional<std::int64_t> told_to = {})
      : desk_{std::move(desk)}, spool_{state_dir, rows_max}, journal_{state_dir}, told_to_{told_to} {}

  void run(); ///< returns after stop(), once all that can be stored is
  void poke();
  void stop();
  /// One order by itself, for a simulated clock instead of run.
  [[nodiscard]] DiskOutcome carry_out(const DiskOrder& order);

private:
  void serve_journal(const DiskOrder& order, DiskOutcome& outcome);
  void note(const std::string& trouble);
  [[nodiscard]] bool wait(bool until_poked); ///< for the next turn; false when stop was asked for

  const Desk desk_;
  Spool spool_;
  JournalReader journal_;
  const std::optional<std::int64_t> told_to_;
  std::string trouble_; ///< told last
  std::mutex lock_;     ///< guards the two below
  std::condition_variable wake_;
  bool poked_ = false, stopping_ = false;
};

} // namespace oxherd::daemon
