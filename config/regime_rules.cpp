#include "config/regime_rules.hpp"

#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/cross_checks.hpp"
#include "config/nearest.hpp"
#include "config/rules.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;

constexpr std::array<Choice<Regime>, 4> regime_words{{{"occupied", Regime::occupied},
                                                      {"ventilated-before-entry", Regime::ventilated_before_entry},
                                                      {"sealed-low-oxygen", Regime::sealed_low_oxygen},
                                                      {"enriched", Regime::enriched}}};

// 19.5 %: below it air is oxygen-deficient (29 CFR 1910.146). 23.5 %: above it, enriched (WAC 296-155-20301).
constexpr QuantityRule entry_oxygen_min{Dimension::ratio, 0.195, 0.209, "19.5 % to 20.9 %"};
constexpr QuantityRule entry_oxygen_max{Dimension::ratio, 0.21, 0.235, "21 % to 23.5 %"};
constexpr QuantityRule entry_carbon_dioxide{Dimension::ratio, 0.0005, 0.005, "500 ppm to 5000 ppm"};
constexpr QuantityRule entry_hold{Dimension::duration, 60.0, 86400.0, "1 min to 24 h"};

bool contains(const std::vector<Regime>& regimes, Regime one) {
  return std::find(regimes.begin(), regimes.end(), one) != regimes.end();
}

std::vector<std::string> words_of(const std::vector<Regime>& regimes) {
  std::vector<std::string> words;
  for (const auto regime : regimes) words.emplace_back(name_of(regime));
  return words;
}

std::vector<Regime> default_regimes(const AlarmKind& kind) {
  if (kind.condition == Condition::disagreement) return {}; // says something of the sensors, not of the air
  if (is_sealable(kind.regime)) {
    if (!kind.safety) return {Regime::sealed_low_oxygen};
    return {Regime::occupied, Regime::ventilated_before_entry};
  }
  const bool starves_plants =
      kind.quantity == AlarmQuantity::carbon_dioxide && kind.direction == alarms::Direction::low && !kind.safety;
  if (kind.regime == Regime::enriched && starves_plants) return {Regime::enriched};
  return {};
}

/// The regimes that stand in the file, each of them possible and named once.
std::optional<std::vector<Regime>> named_regimes(TableReader& in, const std::vector<Regime>& possible) {
  std::vector<Regime> named;
  for (const auto& word : in.texts("regimes")) {
    const auto regime = alarms::regime_named(word);
    if (!regime || !contains(possible, *regime)) {
      in.error("regimes", fmt::format("\"{}\" is no regime that this room can be in; there is {}", word,
                                      listed_nearest_first(word, words_of(possible))));
      return std::nullopt;
    }
    if (!contains(named, *regime)) named.push_back(*regime);
  }
  if (named.empty()) {
    in.error("regimes", "names none; leave the key out for an alarm that is always in force");
    return std::nullopt;
  }
  return named;
}

} // namespace

std::vector<Regime> possible_regimes(Regime in_file) {
  std::vector<Regime> regimes{Regime::occupied, Regime::ventilated_before_entry};
  if (is_sealable(in_file)) regimes.push_back(Regime::sealed_low_oxygen);
  if (in_file == Regime::enriched) regimes.push_back(Regime::enriched);
  return regimes;
}

std::optional<Regime> read_regime(TableReader& in) { return in.choice("regime", regime_words); }

std::vector<Regime> read_regimes_of_alarm(TableReader& in, const AlarmKind& kind) {
  if (!in.has("regimes")) return default_regimes(kind);
  const auto possible = possible_regimes(kind.regime);
  auto named = named_regimes(in, possible);
  if (!named) return default_regimes(kind);
  if (kind.safety)
    for (const auto regime : possible)
      if (regime != Regime::sealed_low_oxygen && !contains(*named, regime))
        in.error("regimes", fmt::format("lacks \"{}\": an alarm of class \"safety\" is in force wherever people may "
                                        "be, only \"sealed-low-oxygen\" may be left out",
                                        name_of(regime)));
  return std::move(*named);
}

std::optional<alarms::EntryLock> read_entry_lock(TableReader& in) {
  auto table = in.table("entry_lock");
  if (!table) return std::nullopt;
  alarms::EntryLock lock;
  lock.oxygen_at_least = table->quantity("oxygen_at_least", entry_oxygen_min).value_or(lock.oxygen_at_least);
  lock.oxygen_at_most = table->quantity("oxygen_at_most", entry_oxygen_max).value_or(lock.oxygen_at_most);
  lock.carbon_dioxide_at_most =
      table->quantity("co2_at_most", entry_carbon_dioxide).value_or(lock.carbon_dioxide_at_most);
  lock.hold = table->duration("hold", entry_hold).value_or(lock.hold);
  table->finish();
  return lock;
}

void check_regime(const Room& room, Reporter& report) {
  if (room.entry_lock && channels(room, Measurand::oxygen) == 0)
    report.error({"room", room.name, "entry_lock"},
                 "the room has no sensor that measures \"oxygen\": its air could never count as fresh");
  constexpr std::chrono::milliseconds slowest_door{2000};
  for (const auto& sensor : room.sensors)
    if (is_sealable(room.regime) && measures(sensor, Measurand::door) && sensor.every > slowest_door)
      report.error(
          {"room", room.name, "sensor", sensor.name, "every"},
          "a door of a room that is kept at low oxygen is asked every 2 s at least: somebody may be in by then");
  if (is_sealable(room.regime) && channels(room, Measurand::door) == 0)
    report.warning(
        {"room", room.name},
        "it is kept at low oxygen, but nothing tells when its door is opened, and then its safety alarms stay "
        "out of force; put a contact on every door (measures = \"door\")");
}

} // namespace oxherd::config
