#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/notify_settings.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/notify/aside.hpp"
#include "daemon/notify/attempt.hpp"
#include "daemon/notify/file_writer.hpp"
#include "daemon/notify/parcel.hpp"

namespace oxherd::daemon::notify {

/// Carries parcels: any number at a time, each with a deadline of its own, so that one that hangs holds up no other.
/// Used from one thread, but for `wake`. TLS is checked, certificate and name. Passwords and secrets are read from
/// their files at each attempt and stand in no message of trouble.
class Courier {
public:
  Courier(); ///< @throws std::runtime_error when libcurl cannot be used
  ~Courier();
  Courier(const Courier&) = delete;
  Courier& operator=(const Courier&) = delete;

  /// Begins an attempt; what fails at once is told by the next `wait` as well. `publish` is for routes by the broker.
  void send(const config::NotifyRoute& route, const Parcel& parcel, const Publish& publish = {});
  void beat(const config::Watcher& watcher, std::uint64_t evaluations, const std::string& site);
  /// Carries on until something has ended, somebody has called `wake`, or the time is over.
  [[nodiscard]] std::vector<Attempt> wait(std::chrono::milliseconds at_most);
  void wake(); ///< any thread

private:
  class Transfers;
  std::unique_ptr<Transfers> transfers_;
  FileWriter files_;
  Aside aside_; ///< goes before what it wakes
};

/// Hands a parcel to a socket of this machine, or to a UDP receiver; never waits for an answer. Returns why not, or
/// nothing.
[[nodiscard]] std::optional<std::string> send_datagram(const config::SyslogRoute& route, const std::string& payload);
/// Writes one file, for as long as its file system takes. Returns why not, or nothing.
[[nodiscard]] std::optional<std::string> write_file(const config::CapFilesRoute& route, const Parcel& parcel);

} // namespace oxherd::daemon::notify
