#include "daemon/run/fault_log.hpp"

#include <fmt/core.h>

namespace oxherd::daemon {

std::optional<std::string> FaultLog::note(const std::string& what, const std::optional<std::string>& trouble) {
  const auto known = failing_.find(what);
  if (!trouble) {
    if (known == failing_.end()) return std::nullopt;
    auto line = fmt::format("{}: recovered after {} failures ({})", what, known->second.count, known->second.trouble);
    failing_.erase(known);
    return line;
  }
  auto& fault = failing_[what];
  ++fault.count;
  if (fault.count > 1) return std::nullopt;
  fault.trouble = *trouble;
  return fmt::format("{}: {}", what, *trouble);
}

} // namespace oxherd::daemon
