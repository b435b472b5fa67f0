#include "daemon/control/loop_performance.hpp"

#include "config/loop_value.hpp"

namespace oxherd::daemon {
namespace {

constexpr std::chrono::seconds between_samples{1};

} // namespace

control::LoopReportSettings report_settings_of(const config::Loop& loop) {
  const auto of = config::loop_value(loop.holds);
  control::LoopReportSettings settings;
  settings.band = of.on_beyond;
  settings.step_least = 2.0 * of.on_beyond;
  settings.settled_within = 0.05;
  settings.idle = {of.noise(), loop.pid.effect == control::Effect::raises};
  settings.switched = loop.method == config::LoopMethod::on_off;
  if (settings.switched) return settings; // swings by its nature, between the ends of its output
  settings.output_low = loop.pid.output_low;
  settings.output_high = loop.pid.output_high;
  settings.oscillation = {.amplitude_least = of.on_beyond, .period_s = loop.pid.integral_time_s.value_or(0.0)};
  return settings;
}

LoopPerformance::LoopPerformance(const config::Loop& loop)
    : settings_{report_settings_of(loop)}, has_coil_{loop.method != config::LoopMethod::continuous},
      record_{settings_} {}

void LoopPerformance::see(const Seen& seen, Monotonic now) {
  if (last_ && now - *last_ < between_samples) return;
  if (!since_) since_ = now;
  const bool on = seen.driven > 0.5;
  if (last_ && has_coil_ && on != on_) ++switchings_;
  on_ = on;
  last_ = now;
  record_.add({now, seen.set_point, seen.value, settings_.switched ? seen.driven : seen.demand, seen.automatic});
}

void LoopPerformance::begin_anew(std::string by, Monotonic now) {
  record_ = control::LoopRecord{settings_};
  since_ = now;
  last_.reset();
  switchings_ = 0;
  by_ = std::move(by);
}

control::LoopReport LoopPerformance::report() const {
  auto report = record_.report();
  report.switchings_per_h.reset();
  if (has_coil_ && report.observed_s > 0.0)
    report.switchings_per_h = static_cast<double>(switchings_) * 3600.0 / report.observed_s;
  return report;
}

} // namespace oxherd::daemon
