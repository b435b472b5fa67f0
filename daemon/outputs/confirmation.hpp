#pragma once

#include <array>
#include <optional>
#include <string>

#include "config/output_settings.hpp"
#include "daemon/bus/output_write.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// Whether one output holds what it was told, by what its device and its feedback contact say. Pure.
///
/// A coil is judged for on and off each by itself: one that once did not come on is lost until it has been seen to come
/// on, although off, which it was told next, it holds. A proof test shows it.
///
/// A gas has no such test, and is not told on while anything speaks against it: it could never be seen to come on
/// again. Once it is off for certain and its failure has been known for a minute, that is forgiven; the trip that came
/// of it waits for a person.
class Confirmation {
public:
  explicit Confirmation(const config::Output& output);

  /// Takes over, over a reload, what speaks against it: each doubt has stood for as long as it has. What the bus of
  /// before had not come to is asked anew, and nothing counts as confirmed until it is again. Of an output that nobody
  /// can prove, what it once did not take is left behind: it could never be seen to take it.
  void continue_from(const Confirmation& before, bool is_provable);

  void asked(OutputValue value, alarms::Monotonic now); ///< a write was handed to the bus
  void answered(const WriteResult& result, alarms::Monotonic now);

  struct Found {
    std::optional<bool> confirmed; ///< empty: not known yet, or not for long enough to be lost
    std::string trouble;           ///< what was wanted and what was found, for a person; empty when all is well
  };
  [[nodiscard]] Found found(alarms::Monotonic now) const;
  /// Whether the last answer confirmed exactly this value, and nothing newer has been asked.
  [[nodiscard]] bool holds(OutputValue value) const { return confirmed_value_ == value; }

private:
  /// One way of being wrong, since when, and what to say of it.
  struct Doubt {
    std::optional<alarms::Monotonic> since;
    std::string words;
    void raise(alarms::Monotonic now, std::string what) {
      if (!since) since = now;
      words = std::move(what);
    }
    void clear() { *this = {}; }
  };
  void judge_held(const WriteResult& result, alarms::Monotonic now);
  void judge_contact(const WriteResult& result, alarms::Monotonic now);
  void forgive_gas(alarms::Monotonic now);
  [[nodiscard]] std::size_t kept_under(OutputValue value) const { return is_coil_ && value != 0 ? 1 : 0; }
  [[nodiscard]] std::string told(OutputValue value) const;

  std::chrono::milliseconds within_;
  std::optional<std::chrono::milliseconds> stroke_; ///< of the feedback contact; empty: there is none
  bool is_coil_, is_gas_;
  std::optional<OutputValue> value_; ///< asked last
  alarms::Monotonic value_since_{0}; ///< without a break
  std::optional<OutputValue> confirmed_value_;
  Doubt waiting_, failing_;
  std::array<Doubt, 2> holding_, contact_; ///< by kept_under()
  bool answered_ = false;
};

} // namespace oxherd::daemon
