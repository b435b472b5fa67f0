#include "tests/simulation/drill/happening.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::drill {
namespace {

constexpr double minute = 60.0, hour = 3600.0, day = 86400.0;

/// How often, proposals without a source: about as much in a month as a bad year brings.
constexpr std::array<KindFacts, kinds> table{{
    {"leak", true, false, false, false, 8.0, 2 * minute, 6 * hour},
    {"airing", true, false, false, false, 20.0, minute, 2 * hour},
    {"sensor-silent", true, true, true, false, 4.0, 5.0, 12 * hour},
    {"bus-out", true, false, true, false, 3.0, 5.0, 6 * hour},
    {"gateway-silent", true, false, true, false, 2.0, 10.0, 3 * hour},
    {"thread-stuck", true, false, true, false, 2.0, 10.0, hour},
    {"reboot", true, true, true, false, 4.0, 20.0, 3 * minute},
    {"exceptions", true, false, true, false, 3.0, 5.0, hour},
    {"late-replies", true, false, true, false, 3.0, minute, 6 * hour},
    {"bit-errors", true, true, true, true, 3.0, minute, 2 * hour},
    {"stuck", true, true, true, true, 3.0, 10 * minute, day},
    {"worn-cell", true, true, true, false, 0.5, 2 * day, 20 * day},
    {"cell-disconnected", true, true, true, false, 2.0, 10.0, 6 * hour},
    {"broker-away", false, false, false, false, 4.0, 10.0, day},
    {"broker-silent", false, false, false, false, 3.0, 10.0, 6 * hour},
    {"broker-flaps", false, false, false, false, 3.0, minute, 2 * hour},
    {"disk-full", false, false, false, false, 3.0, minute, 12 * hour},
    {"disk-slow", false, false, false, false, 3.0, minute, 3 * hour},
    {"disk-read-only", false, false, false, false, 2.0, minute, 6 * hour},
    {"disk-failing", false, false, false, false, 2.0, minute, 3 * hour},
    {"database-damaged", false, false, false, false, 1.0, 1.0, 1.0},
    {"killed", false, false, false, false, 8.0, 0.5, 10 * minute},
    {"power-loss", false, false, false, false, 3.0, 30.0, 2 * hour},
    {"clock-forward", false, false, false, false, 3.0, 1.0, 1.0},
    {"clock-back", false, false, false, false, 3.0, 1.0, 1.0},
    {"reload-storm", false, false, true, false, 6.0, 10.0, 20 * minute},
    {"taken-out-of-service", true, false, true, false, 1.0, 5 * minute, 4 * hour},
    {"door-open", true, false, false, false, 20.0, 3.0, 20 * minute, true},
    {"people-in", true, false, false, false, 10.0, 20.0, hour, true},
    {"contact-lies", true, false, true, false, 3.0, minute, 2 * hour, true},
    {"contact-silent", true, false, true, false, 3.0, 5.0, hour, true},
    {"module-silent", true, false, true, false, 8.0, 2.0, 30 * minute, true},
    {"module-reboot", true, false, true, false, 8.0, 2.0, minute, true},
    {"coil-stuck", true, false, false, false, 8.0, 10.0, hour, true},
    {"valve-stuck", true, false, false, false, 8.0, 10.0, hour, true},
    {"valve-late", true, false, false, false, 8.0, minute, 2 * hour, true},
    {"seal", true, false, false, false, 20.0, 10 * minute, 12 * hour, true},
    {"purge", true, false, false, false, 60.0, 5 * minute, 8 * hour, true},
}};

/// Few are long: even on a scale of times' logarithms.
double drawn_length_s(Chance& chance, const KindFacts& facts) {
  return std::exp(chance.between(std::log(facts.least_s), std::log(facts.most_s)));
}

double drawn_size(Chance& chance, Kind kind) {
  if (kind == Kind::leak) return chance.between(0.02, 0.205);
  if (kind == Kind::clock_forward || kind == Kind::clock_back)
    return std::exp(chance.between(std::log(2.0), std::log(3 * day)));
  return chance.unit();
}

void draw(Chance& chance, const Stage& stage, Kind kind, std::size_t room, Story& story) {
  const auto& facts = facts_of(kind);
  const double length_s = 1e-3 * static_cast<double>(stage.length.count());
  const double gap_s = 30.0 * day / (facts.per_month * stage.density);
  // The last part is quiet: nothing begins in the last fifth, and nothing lasts beyond nine tenths.
  for (double at_s = 0.0;;) {
    at_s += -gap_s * std::log(1.0 - chance.unit());
    if (at_s > 0.8 * length_s) return;
    Happening one;
    one.kind = kind;
    one.at = ms_of(at_s);
    one.length = ms_of(std::min(drawn_length_s(chance, facts), 0.9 * length_s - at_s));
    one.room = room;
    one.sensor = chance.bits() % stage.sensors[room];
    one.size = drawn_size(chance, kind);
    one.salt = chance.bits();
    story.push_back(one);
  }
}

} // namespace

const KindFacts& facts_of(Kind kind) { return table.at(static_cast<std::size_t>(kind)); }

std::string to_string(const Happening& h) {
  const auto& facts = facts_of(h.kind);
  return fmt::format("{:>10.3f} s  {} for {:.3f} s{}{} ({:.4g})", 1e-3 * static_cast<double>(h.at.count()), facts.name,
                     1e-3 * static_cast<double>(h.length.count()),
                     facts.of_room ? fmt::format(" in room {}", h.room) : "",
                     facts.of_sensor ? fmt::format(", sensor {}", h.sensor) : "", h.size);
}

Story drawn_story(Chance& chance, const Stage& stage) {
  Story story;
  for (std::size_t k = 0; k < kinds; ++k) {
    const auto kind = static_cast<Kind>(k);
    const std::size_t rooms = facts_of(kind).of_room ? stage.sensors.size() : 1;
    for (std::size_t room = 0; room < rooms; ++room)
      if (!facts_of(kind).of_gas || stage.gas[room]) draw(chance, stage, kind, room, story);
  }
  std::stable_sort(story.begin(), story.end(), [](const Happening& a, const Happening& b) { return a.at < b.at; });
  return story;
}

} // namespace oxherd::drill
