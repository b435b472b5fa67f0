#pragma once

#include "daemon/records.hpp"

namespace oxherd::daemon {

/// Somewhere records go: store, MQTT, people. Called on the decision thread only; every call returns at
/// once: it copies into the sink's own bounded queue, which drops the oldest measurements and counts them, and never
/// drops alarm records.
class Sink {
public:
  virtual ~Sink() = default;
  virtual void sample(const SampleRecord&) {}
  virtual void reading(const ReadingRecord&) {}
  virtual void alarm(const AlarmRecord&, const AlarmSnapshot&, const AlarmStatus&) {}
  /// A line of the journal about a room itself: its regime, its lock.
  virtual void room_event(const AlarmRecord&) {}
  /// The state of an alarm without a transition: at start and after a reload, so that outputs know every alarm there
  /// is.
  virtual void standing(const AlarmStatus&) {}
  /// A reload took this alarm away or, where `alarm` is empty, this room: what was said of it last holds no more.
  virtual void removed(const std::string& /*room*/, const std::string& /*alarm*/) {}
  /// How many evaluations of the site are completed; called when there are more than before.
  virtual void evaluated(std::uint64_t /*count*/, alarms::Monotonic /*now*/, WallTime /*wall*/) {}
  virtual void level(const RoomLevel&) {} ///< of each room once a second
  virtual void room(const RoomStatus&) {} ///< when something of it changed, and at least every 10 s
};

} // namespace oxherd::daemon
