#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "config/output_settings.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// How long an output may be driven to warn: long enough to be seen at the door, short enough for the neighbours.
/// Proposals of the project.
inline constexpr alarms::Monotonic proof_at_least{3000}, proof_at_most{60000}, proof_by_default{10000};
/// A person who has not said by then what was seen has not proved anything (proposal of the project).
inline constexpr alarms::Monotonic proof_answer_within{std::chrono::minutes{10}};

/// A proof test of one output: it is driven to warn for a time, and then a person says whether it did. Pure.
class ProofTest {
public:
  ProofTest(std::string by, alarms::Monotonic duration, alarms::Monotonic now)
      : by_{std::move(by)}, until_{now + duration}, answer_by_{until_ + proof_answer_within} {}

  [[nodiscard]] bool is_driving(alarms::Monotonic now) const { return now < until_; }
  [[nodiscard]] bool is_over(alarms::Monotonic now) const { return now >= answer_by_; }
  [[nodiscard]] const std::string& by() const { return by_; }
  /// The device confirmed the warning while it was driven, and what it was told afterwards.
  void saw_warning() { driven_ = true; }
  void saw_release() { released_ = true; }
  /// Why it cannot have worked yet, whatever was seen; empty: it can.
  [[nodiscard]] std::string doubt(alarms::Monotonic now) const;
  [[nodiscard]] std::string edges() const; ///< what the device confirmed, for the record

private:
  std::string by_;
  alarms::Monotonic until_, answer_by_;
  bool driven_ = false, released_ = false;
};

/// What came of a proof test, for the journal.
struct ProofNote {
  std::size_t output = 0;
  std::string event; ///< "proof-test-begun", "proof-test-worked", "proof-test-failed", "proof-test-unanswered"
  std::string by, comment, text;
};
inline constexpr const char* proof_begun = "proof-test-begun";
inline constexpr const char* proof_worked = "proof-test-worked";
inline constexpr const char* proof_failed = "proof-test-failed";
inline constexpr const char* proof_unanswered = "proof-test-unanswered";

/// The last proof of an output that a person has answered, and when the next one is due.
struct ProofRecord {
  std::optional<WallTime> worked;       ///< last time that it did
  std::optional<WallTime> answered;     ///< last time that a person said anything
  bool failed = false;                  ///< that was "failed"
  std::string by;                       ///< who said it
  void take(const AlarmRecord& record); ///< others than answers change nothing
  /// Empty: never asked for. An output that was never seen to work is due at once.
  [[nodiscard]] std::optional<WallTime> due(std::optional<std::chrono::days> every, WallTime now) const;
};

/// The name under which the journal keeps the proof tests of an output: no alarm can be called that.
[[nodiscard]] std::string journal_name_of(const std::string& output);

} // namespace oxherd::daemon
