#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>
#include <queue>
#include <string>
#include <unordered_map>
#include <vector>

#include "alarms/time.hpp"
#include "daemon/senml.hpp"

namespace oxherd::daemon {

/// Readings on their way to the broker: those of a sensor wait for each other for a time and go out as one pack,
/// because a message costs many times what a record in it does. A reading whose quality differs from the one before
/// ends the wait, and so does the first of a sensor: whoever looks learns at once. The first wait of a sensor is a
/// share of the whole, another for each sensor, so that those that began together do not go out together for ever.
/// Holds no lock and no clock.
/// @checked tests/daemon/mqtt/packer_test.cpp
class Packer {
public:
  struct Pack {
    std::string room, sensor, payload;
  };
  /// A pack that has grown so far goes out before its time.
  static constexpr std::size_t bytes_max = 16384;

  /// @param longest  how long a reading may wait; 0: each is a pack of its own
  Packer(std::string site, std::chrono::milliseconds longest) : site_{std::move(site)}, longest_{longest} {}

  /// Takes a reading in; adds to `out` what is complete by it.
  void take(const ReadingRecord& reading, alarms::Monotonic now, std::vector<Pack>& out);
  void take_due(alarms::Monotonic now, std::vector<Pack>& out); ///< what has waited long enough
  void take_all(std::vector<Pack>& out);                        ///< everything: nothing will be added any more

private:
  struct Open {
    std::string room, sensor;
    SenmlPack pack;
    alarms::Monotonic first_wait{0};
    std::uint64_t number = 0; ///< of the pack that is open
    std::optional<alarms::Quality> quality;
  };
  struct Waiting {
    alarms::Monotonic until;
    Open* open;
    std::uint64_t number;
    bool operator>(const Waiting& other) const { return until > other.until; }
  };
  Open& of(const ReadingRecord& reading);
  static void close(Open& open, std::vector<Pack>& out);

  std::string site_;
  std::chrono::milliseconds longest_;
  std::unordered_map<std::string, Open> open_; ///< by room and sensor
  /// The soonest first; some of them are long gone.
  std::priority_queue<Waiting, std::vector<Waiting>, std::greater<>> waiting_;
  std::string key_; ///< kept for its memory
};

} // namespace oxherd::daemon
