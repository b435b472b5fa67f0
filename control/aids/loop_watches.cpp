#include "control/aids/loop_watches.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace oxherd::control {

void StepWatch::begin(double at_s, double value, double set_point) {
  begun_s_ = at_s;
  value_ = value;
  tenth_s_.reset();
  inside_since_s_.reset();
  figures_ = StepFigures{.size = set_point - value, .under_way = true};
}

void StepWatch::stop() {
  if (figures_) figures_->under_way = false;
}

void StepWatch::add(const Piece& value) {
  if (!figures_ || !figures_->under_way || figures_->size == 0.0) return;
  const auto share = [&](double v) { return (v - value_) / figures_->size; }; // of the way: 0 at first, 1 when there
  const Piece way{value.start_s, value.length_s, share(value.from), share(value.to)};
  const auto rises_past = [&](double level) { return way.from < level && way.to >= level; };
  if (!tenth_s_ && rises_past(0.1)) tenth_s_ = way.passes_s(0.1);
  if (tenth_s_ && !figures_->rise_s && rises_past(0.9)) figures_->rise_s = way.passes_s(0.9) - *tenth_s_;
  figures_->overshoot = std::max(figures_->overshoot, way.to - 1.0);

  if (std::abs(way.to - 1.0) > within_)
    inside_since_s_.reset();
  else if (!inside_since_s_)
    inside_since_s_ = std::abs(way.from - 1.0) <= within_
                          ? way.start_s
                          : way.passes_s(way.from < 1.0 ? 1.0 - within_ : 1.0 + within_);
}

std::optional<StepFigures> StepWatch::figures() const {
  auto figures = figures_;
  if (figures && inside_since_s_) figures->settling_s = *inside_since_s_ - begun_s_;
  return figures;
}

void OscillationWatch::add(const Piece& error) {
  if (!(settings_.amplitude_least > 0.0) || !(settings_.period_s > 0.0)) return;
  loads_ *= std::exp(-error.length_s / (settings_.remembered_periods * settings_.period_s));
  if (error.from * error.to >= 0.0) {
    add_one_sign(error);
    return;
  }
  const double zero_s = error.passes_s(0.0);
  add_one_sign({error.start_s, zero_s - error.start_s, error.from, 0.0});
  add_one_sign({zero_s, error.end_s() - zero_s, 0.0, error.to});
}

void OscillationWatch::add_one_sign(const Piece& error) {
  const double area = (error.from + error.to) / 2.0 * error.length_s;
  const int sign = area > 0.0 ? 1 : area < 0.0 ? -1 : 0;
  if (sign != 0 && sign != sign_) { // also where a small move of the set-point makes the error jump
    change_sign(error.start_s);
    sign_ = sign;
  }
  area_ += std::abs(area);
}

void OscillationWatch::change_sign(double at_s) {
  const double enough = 2.0 * settings_.amplitude_least * settings_.period_s / (2.0 * std::numbers::pi);
  if (whole_ && area_ >= enough) {
    loads_ += 1.0;
    ++count_;
    const double length_s = at_s - begun_s_, off_s = length_s - mean_s_;
    mean_s_ += off_s / static_cast<double>(count_);
    squares_s2_ += off_s * (length_s - mean_s_);
    mean_area_ += (area_ - mean_area_) / static_cast<double>(count_);
  }
  whole_ = sign_ != 0; // the very first one may have begun before anyone looked
  begun_s_ = at_s;
  area_ = 0.0;
}

void OscillationWatch::interrupt() {
  sign_ = 0;
  whole_ = false;
  area_ = 0.0;
}

Oscillation OscillationWatch::figures() const {
  Oscillation figures{.oscillating = loads_ > settings_.loads_most, .loads = loads_};
  if (count_ == 0) return figures;
  figures.period_s = 2.0 * mean_s_;
  figures.amplitude = mean_area_ * std::numbers::pi / *figures.period_s; // a sine's half wave has the area a T / pi
  const double sd_s = count_ > 1 ? std::sqrt(squares_s2_ / static_cast<double>(count_ - 1)) : 0.0;
  if (sd_s > 0.0) figures.regularity = mean_s_ / sd_s / 3.0;
  return figures;
}

void IdleWatch::add(double at_s, double output, double value) {
  if (!(settings_.noise > 0.0)) return;
  const Point now{at_s, output, value};
  if (!reference_) {
    reference_ = now;
    return;
  }
  if (std::abs(value - reference_->value) < settings_.noise) return;
  const double product = (output - reference_->output) * (value - reference_->value) * (settings_.raises ? 1.0 : -1.0);
  if (product > 0.0) same_s_ += at_s - reference_->at_s;
  if (product < 0.0) opposite_s_ += at_s - reference_->at_s;
  reference_ = now;
}

std::optional<double> IdleWatch::index() const {
  const double moved_s = same_s_ + opposite_s_;
  if (!(moved_s > 0.0)) return std::nullopt;
  return (same_s_ - opposite_s_) / moved_s;
}

} // namespace oxherd::control
