#include <algorithm>
#include <stdexcept>

#include <fmt/core.h>

#include "demo/story.hpp"

namespace oxherd::demo {
namespace {

/// The word in braces as a number for people; the word itself, braces kept, when it means nothing.
std::string fill_in(std::string_view word, const Site& site, double first_hPa) {
  const double now_hPa = site.weather().pressure().si() / 100.0;
  if (word == "hPa") return fmt::format("{:.0f}", now_hPa);
  if (word == "fall") return fmt::format("{:.0f}", first_hPa - now_hPa);
  const auto space = word.find(' ');
  const auto name = space == std::string_view::npos ? std::string_view{} : word.substr(space + 1);
  const auto kind = word.substr(0, space);
  if (const Room* room = site.room(name); room != nullptr && kind == "oxygen")
    return fmt::format("{:.1f}", room->gas().oxygen() * 100.0);
  if (const SimulatedCell* cell = site.cell(name); cell != nullptr && kind == "uncorrected")
    return fmt::format("{:.1f}", cell->uncorrected() * 100.0);
  return fmt::format("{{{}}}", word);
}

} // namespace

Player::Player(Site& site, std::vector<StoryStep> steps)
    : site_{&site}, steps_{std::move(steps)}, first_hPa_{site.weather().pressure().si() / 100.0} {}

std::vector<std::string> Player::advance(std::chrono::microseconds dt) {
  const auto until = site_->now() + dt;
  std::vector<std::string> told;
  while (next_ < steps_.size() && steps_[next_].at <= until) {
    const StoryStep& step = steps_[next_++];
    site_->advance(std::max(std::chrono::microseconds{0}, step.at - site_->now()));
    if (const auto done = site_->apply(step.action); !done) throw std::logic_error("unchecked story: " + done.error());
    if (!step.text.empty()) told.push_back(tell(step));
  }
  site_->advance(until - site_->now());
  return told;
}

std::string Player::tell(const StoryStep& step) const {
  const auto s = step.at.count();
  std::string line = fmt::format("[story {:02}:{:02}:{:02}] ", s / 3600, s / 60 % 60, s % 60);
  std::string_view rest = step.text;
  while (!rest.empty()) {
    const auto open = rest.find('{');
    const auto close = rest.find('}', open == std::string_view::npos ? 0 : open);
    if (open == std::string_view::npos || close == std::string_view::npos) break;
    line += rest.substr(0, open);
    line += fill_in(rest.substr(open + 1, close - open - 1), *site_, first_hPa_);
    rest.remove_prefix(close + 1);
  }
  line += rest;
  return line;
}

} // namespace oxherd::demo
