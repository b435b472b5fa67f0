#include "daemon/cli/progress_line.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr auto redraw_period = std::chrono::milliseconds{250};
constexpr double megabyte = 1e6;
constexpr std::size_t bar_columns = 24;

std::string bar_text(double part) {
  const auto filled = static_cast<std::size_t>(part * bar_columns);
  return '[' + std::string(filled, '#') + std::string(bar_columns - filled, '.') + ']';
}

} // namespace

std::string progress_text(std::uint64_t bytes, std::optional<std::uint64_t> total, double seconds) {
  const double done = static_cast<double>(bytes);
  const double rate = seconds > 0.0 ? done / seconds : 0.0;
  const bool known = total && *total > 0;
  if (!known) return fmt::format("{:.0f} MB, {:.0f} MB/s", done / megabyte, rate / megabyte);
  const double whole = static_cast<double>(*total);
  const double part = std::clamp(done / whole, 0.0, 1.0);
  const double left_s = rate > 0.0 ? std::max(whole - done, 0.0) / rate : 0.0;
  return fmt::format("{} {:.0f} %, {:.0f} of {:.0f} MB, {:.0f} MB/s, {} left", bar_text(part), part * 100.0,
                     done / megabyte, whole / megabyte, rate / megabyte, duration_text(left_s));
}

std::string part_text(std::uint64_t readings, double part, double seconds) {
  const double done = std::clamp(part, 0.0, 1.0);
  const auto start = fmt::format("{} {:.0f} %, {} readings", bar_text(done), done * 100.0, readings);
  return done > 0.0 ? fmt::format("{}, {} left", start, duration_text(seconds * (1.0 - done) / done)) : start;
}

ProgressLine::ProgressLine(std::ostream& to, bool shown)
    : to_{to}, shown_{shown}, begun_{std::chrono::steady_clock::now()}, last_{begun_} {}

void ProgressLine::show(std::uint64_t bytes, std::optional<std::uint64_t> total) {
  if (const auto seconds = due()) draw(progress_text(bytes, total, *seconds));
}

void ProgressLine::show_part(std::uint64_t readings, double part) {
  if (const auto seconds = due()) draw(part_text(readings, part, *seconds));
}

void ProgressLine::show_text(const std::string& text) {
  if (due()) draw(text);
}

std::optional<double> ProgressLine::due() {
  if (!shown_) return std::nullopt;
  const auto now = std::chrono::steady_clock::now();
  if (now - last_ < redraw_period) return std::nullopt; // a small file is done before any line is worth it
  last_ = now;
  return std::chrono::duration<double>(now - begun_).count();
}

void ProgressLine::draw(const std::string& text) {
  drawn_ = true;
  to_ << '\r' << text << "\x1b[K" << std::flush;
}

void ProgressLine::clear() {
  if (drawn_) to_ << "\r\x1b[K" << std::flush;
  drawn_ = false;
}

} // namespace oxherd::daemon::cli
