#include "daemon/outputs/proof_test.hpp"

#include <cmath>

#include <fmt/core.h>

namespace oxherd::daemon {

std::string ProofTest::doubt(alarms::Monotonic now) const {
  if (is_driving(now))
    return fmt::format("the test still runs for {:.0f} s: answer when it has ended",
                       std::ceil(std::chrono::duration<double>(until_ - now).count()));
  if (!driven_)
    return "the device never confirmed that it held the warning, so the test cannot have worked: look at the device, "
           "then answer with \"failed\" and prove it again";
  if (!released_)
    return "the device has not confirmed what it was told after the test, so the test cannot have worked yet: look at "
           "`oxherd status`";
  return {};
}

std::string ProofTest::edges() const {
  return fmt::format("the device {} the warning and {} its end", driven_ ? "confirmed" : "DID NOT CONFIRM",
                     released_ ? "confirmed" : "DID NOT CONFIRM");
}

void ProofRecord::take(const AlarmRecord& record) {
  const bool has_worked = record.event == proof_worked;
  if (!has_worked && record.event != proof_failed) return;
  answered = record.at;
  by = record.author;
  failed = !has_worked;
  if (has_worked) worked = record.at;
}

std::optional<WallTime> ProofRecord::due(std::optional<std::chrono::days> every, WallTime now) const {
  if (!every) return std::nullopt;
  if (!worked) return now;
  return *worked + *every;
}

std::string journal_name_of(const std::string& output) { return "output/" + output; }

} // namespace oxherd::daemon
