#pragma once

#include <chrono>
#include <cstdio>
#include <memory>
#include <string>

#include "demo/output_module.hpp"
#include "demo/site.hpp"

namespace oxherd::demo {

using WallTime = std::chrono::sys_time<std::chrono::milliseconds>;

/// One line of JSON: simulated and wall time, barometer, the true air of every room, faults, coils and heartbeat.
/// Fractions are ratios, pressures pascal, temperatures kelvin.
[[nodiscard]] std::string truth_line(const Site& site, const OutputModule& outputs, WallTime wall);

/// Writes such lines to a file, five a second and at once when a coil changes, so that a test can compare.
class TruthLog {
public:
  /// @throws std::runtime_error when the file cannot be made
  explicit TruthLog(const std::string& path);
  /// @return false when the line could not be written (disk full)
  [[nodiscard]] bool write(const Site& site, const OutputModule& outputs, WallTime wall);

private:
  struct Close {
    void operator()(std::FILE* file) const { static_cast<void>(std::fclose(file)); }
  };
  std::unique_ptr<std::FILE, Close> file_;
  WallTime next_{};
  std::array<bool, OutputModule::coil_count> coils_{};
};

} // namespace oxherd::demo
