#include "daemon/cli/progress_line.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr auto redraw_period = std::chrono::milliseconds{250};
constexpr double megabyte = 1e6;
constexpr int bar_columns = 24;

} // namespace

std::string progress_text(std::uint64_t bytes, std::optional<std::uint64_t> total, double seconds) {
  const double done = static_cast<double>(bytes);
  const double rate = seconds > 0.0 ? done / seconds : 0.0;
  const bool known = total && *total > 0;
  if (!known) return fmt::format("{:.0f} MB, {:.0f} MB/s", done / megabyte, rate / megabyte);
  const double whole = static_cast<double>(*total);
  const double part = std::clamp(done / whole, 0.0, 1.0);
  const int filled = static_cast<int>(part * bar_columns);
  const auto bar = std::string(static_cast<std::size_t>(filled), '#') +
                   std::string(static_cast<std::size_t>(bar_columns - filled), '.');
  const double left_s = rate > 0.0 ? std::max(whole - done, 0.0) / rate : 0.0;
  return fmt::format("[{}] {:.0f} %, {:.0f} of {:.0f} MB, {:.0f} MB/s, {} left", bar, part * 100.0, done / megabyte,
                     whole / megabyte, rate / megabyte, duration_text(left_s));
}

ProgressLine::ProgressLine(std::ostream& to, bool shown)
    : to_{to}, shown_{shown}, begun_{std::chrono::steady_clock::now()}, last_{begun_} {}

void ProgressLine::show(std::uint64_t bytes, std::optional<std::uint64_t> total) {
  if (!shown_) return;
  const auto now = std::chrono::steady_clock::now();
  if (now - last_ < redraw_period) return; // a small file is done before any line is worth it
  last_ = now;
  drawn_ = true;
  const auto text = progress_text(bytes, total, std::chrono::duration<double>(now - begun_).count());
  to_ << '\r' << text << "\x1b[K" << std::flush;
}

void ProgressLine::clear() {
  if (drawn_) to_ << "\r\x1b[K" << std::flush;
  drawn_ = false;
}

} // namespace oxherd::daemon::cli
