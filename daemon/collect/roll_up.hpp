#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <memory>
#include <mutex>
#include <string>

#include "daemon/collect/historian.hpp"
#include "daemon/collect/settings.hpp"

namespace oxherd::daemon::collect {

/// Makes minutes and hours of the samples (schema_1.sql), on a connection of its own. Used from one thread.
class RollUp {
public:
  [[nodiscard]] static tl::expected<std::unique_ptr<RollUp>, HistorianError> open(const DatabaseSettings& database);
  ~RollUp();
  RollUp(const RollUp&) = delete;
  RollUp& operator=(const RollUp&) = delete;

  /// The complete minutes of the oldest hour that has any into which something came since, and that hour. A minute is
  /// complete ten seconds after its end, once nothing has come into it for three.
  /// @return whether there was something to do; call again at once
  [[nodiscard]] tl::expected<bool, HistorianError> next_hour();

private:
  explicit RollUp(std::shared_ptr<pqxx::connection_base> connection);
  std::shared_ptr<pqxx::connection_base>
      connection_; ///< shared_ptr knows how to end it: the base has no virtual destructor
};

/// Does so every few seconds. `run` belongs to a thread of its own, the rest may be called from any.
class RollUpWorker {
public:
  explicit RollUpWorker(const DatabaseSettings& database) : database_{database} {}
  void run(); ///< returns after stop()
  void stop();
  [[nodiscard]] std::string trouble() const; ///< why it cannot, in words; empty: all is well

private:
  [[nodiscard]] std::string turn(); ///< what went wrong

  const DatabaseSettings database_;
  std::unique_ptr<RollUp> roll_up_;
  mutable std::mutex mutex_; ///< guards the three below
  std::condition_variable wake_;
  std::string trouble_;
  bool stopping_ = false;
};

} // namespace oxherd::daemon::collect
