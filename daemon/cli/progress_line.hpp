#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <ostream>
#include <string>

namespace oxherd::daemon::cli {

/// What a progress line says: "412 of 1024 MB, 40 %, 172 MB/s, 4 s left".
[[nodiscard]] std::string progress_text(std::uint64_t bytes, std::optional<std::uint64_t> total, double seconds);

/// The same for work whose size is known by its part only: "[###...] 40 %, 120000 readings, 4 s left".
[[nodiscard]] std::string part_text(std::uint64_t readings, double part, double seconds);

/// A line of a terminal that tells how far a long work is, rewritten a few times a second.
class ProgressLine {
public:
  /// @param shown  false writes nothing: the stream is no terminal
  ProgressLine(std::ostream& to, bool shown);
  void show(std::uint64_t bytes, std::optional<std::uint64_t> total);
  void show_part(std::uint64_t readings, double part);
  void show_text(const std::string& text);
  /// Takes the line away.
  void clear();

private:
  /// Seconds since the beginning, when it is time to draw again.
  [[nodiscard]] std::optional<double> due();
  void draw(const std::string& text);

  std::ostream& to_;
  bool shown_;
  bool drawn_ = false;
  std::chrono::steady_clock::time_point begun_, last_;
};

} // namespace oxherd::daemon::cli
