#include "control/aids/loop_report.hpp"

#include <algorithm>
#include <cmath>

namespace oxherd::control {

namespace {

constexpr double seconds_an_hour = 3600.0;

/// Share of a straight piece that lies within a band to both sides of 0.
double share_within(const Piece& piece, double band) {
  const double low = std::min(piece.from, piece.to), high = std::max(piece.from, piece.to);
  if (low == high) return std::abs(low) <= band ? 1.0 : 0.0;
  return std::max(0.0, std::min(high, band) - std::max(low, -band)) / (high - low);
}

/// Integral of |error|, and of |error| times the time since the origin.
struct Areas {
  double absolute = 0;
  double late = 0;
};
Areas areas_of(const Piece& piece, double origin_s) {
  const auto one_sign = [&](double start_s, double length_s, double from, double to) {
    const double a = std::abs(from), b = std::abs(to), since_s = start_s - origin_s;
    return Areas{(a + b) / 2.0 * length_s, length_s * (since_s * (a + b) / 2.0 + length_s * (a + 2.0 * b) / 6.0)};
  };
  if (piece.from * piece.to >= 0.0) return one_sign(piece.start_s, piece.length_s, piece.from, piece.to);
  const double zero_s = piece.passes_s(0.0);
  const auto before = one_sign(piece.start_s, zero_s - piece.start_s, piece.from, 0.0);
  const auto after = one_sign(zero_s, piece.end_s() - zero_s, 0.0, piece.to);
  return {before.absolute + after.absolute, before.late + after.late};
}

std::optional<double> finite(std::optional<double> value) {
  return value && std::isfinite(*value) ? value : std::nullopt;
}
std::optional<double> ratio(double part, double whole) {
  return whole > 0.0 ? std::optional{part / whole} : std::nullopt;
}

} // namespace

LoopRecord::LoopRecord(const LoopReportSettings& settings)
    : settings_{settings}, step_{settings.settled_within}, oscillation_{settings.oscillation}, idle_{settings.idle} {}

bool LoopRecord::is_on(double output) const { return output > (settings_.output_low + settings_.output_high) / 2.0; }

void LoopRecord::interrupt() {
  step_.stop();
  oscillation_.interrupt();
  idle_.interrupt();
}

void LoopRecord::add(LoopSample now) {
  now.value = finite(now.value);
  now.set_point = finite(now.set_point);
  if (!std::isfinite(now.output) || (last_ && now.at <= last_->at)) {
    ++refused_;
    return;
  }
  if (!last_) {
    first_at_ = now.at;
    last_ = now;
    return;
  }
  const double start_s = alarms::seconds_of(last_->at - first_at_), length_s = alarms::seconds_of(now.at - last_->at);
  if (now.at - last_->at > settings_.gap_most) {
    gaps_s_ += length_s;
    run_s_ = 0.0;
    interrupt();
    last_ = now;
    return;
  }
  observed_s_ += length_s;
  if (last_->automatic) automatic_s_ += length_s;
  add_output(last_->output, now.output, length_s);
  if (last_->automatic && now.automatic && last_->value && now.value && last_->set_point) {
    const double set_point = *last_->set_point;
    add_error({start_s, length_s, set_point - *last_->value, set_point - *now.value}, last_->output);
    step_.add({start_s, length_s, *last_->value, *now.value});
    idle_.add(start_s + length_s, now.output, *now.value);
    if (now.set_point) look_for_step({start_s + length_s, 0.0, set_point, *now.set_point}, *now.value);
  } else {
    interrupt();
  }
  last_ = now;
}

void LoopRecord::add_output(double before, double now, double length_s) {
  if (is_on(before)) {
    on_s_ += length_s;
    run_s_ += length_s;
    longest_run_s_ = std::max(longest_run_s_, run_s_);
  }
  if (is_on(now) != is_on(before)) {
    ++switchings_;
    run_s_ = 0.0;
  }
  travel_ += std::abs(now - before) / (settings_.output_high - settings_.output_low);
}

void LoopRecord::add_error(const Piece& error, double output) {
  if (judged_s_ == 0.0) {
    offset_ = error.from;
    origin_s_ = error.start_s;
  }
  judged_s_ += error.length_s;
  const double a = error.from - offset_, b = error.to - offset_;
  sum_ += (a + b) / 2.0 * error.length_s;
  squares_ += (a * a + a * b + b * b) / 3.0 * error.length_s;
  within_s_ += share_within(error, settings_.band) * error.length_s;
  const auto areas = areas_of(error, origin_s_);
  absolute_ += areas.absolute;
  late_ += areas.late;
  if (output <= settings_.output_low || output >= settings_.output_high) limit_s_ += error.length_s;
  oscillation_.add(error);
}

void LoopRecord::look_for_step(const Piece& set_point, double value) {
  if (set_point.to == set_point.from) return;
  step_.stop(); // whatever moves the set-point ends the answer to the step before
  if (!(settings_.step_least > 0.0) || std::abs(set_point.to - set_point.from) < settings_.step_least) return;
  step_.begin(set_point.start_s, value, set_point.to);
  oscillation_.interrupt();
  idle_.interrupt();
  origin_s_ = set_point.start_s;
}

LoopReport LoopRecord::report() const {
  LoopReport r{.observed_s = observed_s_, .gaps_s = gaps_s_, .refused = refused_, .judged_s = judged_s_};
  r.automatic_share = ratio(automatic_s_, observed_s_);
  if (const auto mean = ratio(sum_, judged_s_)) {
    r.error_mean = *mean + offset_;
    r.error_sd = std::sqrt(std::max(0.0, squares_ / judged_s_ - *mean * *mean));
  }
  r.within_band_share = ratio(within_s_, judged_s_);
  r.absolute_error = ratio(absolute_, judged_s_);
  if (const auto late = ratio(late_, judged_s_)) r.late_absolute_error = *late / seconds_an_hour;
  r.switchings_per_h = ratio(static_cast<double>(switchings_) * seconds_an_hour, observed_s_);
  r.on_share = ratio(on_s_, observed_s_);
  r.longest_run_s = longest_run_s_;
  r.output_travel = travel_;
  if (!settings_.switched) r.limit_share = ratio(limit_s_, judged_s_);
  r.step = step_.figures();
  r.oscillation = oscillation_.figures();
  if (!settings_.switched) r.idle_index = idle_.index();
  return r;
}

} // namespace oxherd::control
