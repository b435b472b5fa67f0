#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "demo/devices.hpp"
#include "demo/order_pipe.hpp"
#include "demo/serial_server.hpp"
#include "demo/site.hpp"
#include "demo/story.hpp"
#include "demo/tcp_server.hpp"
#include "demo/truth_log.hpp"

namespace oxherd::demo {

struct LarkfieldOptions {
  std::uint16_t tcp_port = 1502;       ///< 0 takes a free one
  std::optional<std::string> rtu_link; ///< path of the serial line's link; empty: no serial line
  double speed = 60.0;                 ///< simulated seconds in one real second, above 0 and up to 3600
  std::uint64_t seed = 1;
  std::vector<StoryStep> story;
  std::optional<std::string> truth;  ///< file for the lines of truth
  std::optional<std::string> orders; ///< named pipe to make, for what is to happen at once; empty: none
};

/// The site on its two buses, run by real time. One thread only.
class Larkfield {
public:
  using Clock = std::chrono::steady_clock;
  /// @throws std::runtime_error when a port, link or file cannot be had
  explicit Larkfield(LarkfieldOptions options);
  /// Waits for requests, at most `longest`, answers them and lets the physics catch up with real time.
  /// @return lines for the person who watches
  std::vector<std::string> round(std::chrono::milliseconds longest);
  [[nodiscard]] std::uint16_t port() const { return tcp_.port(); }
  [[nodiscard]] Site& site() { return site_; }

private:
  [[nodiscard]] OutputModule::Monotonic real_time() const;
  [[nodiscard]] std::chrono::microseconds catch_up();
  /// Does what the pipe brought.
  void obey(std::vector<std::string>& told);

  LarkfieldOptions options_;
  Site site_;
  Player player_;
  Devices devices_;
  TcpServer tcp_;
  std::unique_ptr<SerialServer> serial_;
  std::unique_ptr<TruthLog> truth_;
  std::unique_ptr<OrderPipe> orders_;
  Clock::time_point start_ = Clock::now();
  Clock::time_point last_ = start_;
};

} // namespace oxherd::demo
