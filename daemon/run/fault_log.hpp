#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>

namespace oxherd::daemon {

/// Keeps the log readable through long faults: the first failure and the recovery are lines, repeats are counted.
class FaultLog {
public:
  /// @return the line to log now, if any: the trouble itself, or "recovered after N failures: ..."
  [[nodiscard]] std::optional<std::string> note(const std::string& what, const std::optional<std::string>& trouble);
  [[nodiscard]] bool failing(const std::string& what) const { return failing_.contains(what); }

private:
  struct Fault {
    std::string trouble;
    std::uint64_t count = 0;
  };
  std::map<std::string, Fault> failing_;
};

} // namespace oxherd::daemon
