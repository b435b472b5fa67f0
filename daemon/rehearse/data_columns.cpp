#include "daemon/rehearse/data_columns.hpp"

#include <algorithm>
#include <array>

#include "daemon/logfile/column_unit.hpp"
#include "daemon/logfile/row.hpp"

namespace oxherd::daemon::rehearse {
namespace {

using compensation::Dimension;
using compensation::Unit;
using config::Measurand;
using logfile::lower_case;
using logfile::trimmed;

struct Known {
  std::string_view name;
  Role role;
  std::optional<Measurand> gas;
};
constexpr std::array known_columns{Known{"oxygen", Role::value, Measurand::oxygen},
                                   Known{"o2", Role::value, Measurand::oxygen},
                                   Known{"dry", Role::value, Measurand::oxygen},
                                   Known{"carbon-dioxide", Role::value, Measurand::carbon_dioxide},
                                   Known{"carbon_dioxide", Role::value, Measurand::carbon_dioxide},
                                   Known{"carbon dioxide", Role::value, Measurand::carbon_dioxide},
                                   Known{"co2", Role::value, Measurand::carbon_dioxide},
                                   Known{"po2", Role::po2, Measurand::oxygen},
                                   Known{"oxygen-partial-pressure", Role::po2, Measurand::oxygen},
                                   Known{"quality", Role::quality, std::nullopt},
                                   Known{"oxygen_quality", Role::quality, std::nullopt},
                                   Known{"status", Role::status, std::nullopt},
                                   Known{"reasons", Role::reason, std::nullopt},
                                   Known{"oxygen_remark", Role::reason, std::nullopt},
                                   Known{"room", Role::room, std::nullopt},
                                   Known{"sensor", Role::sensor, std::nullopt}};

struct Word {
  std::string_view word;
  std::string_view symbol;
  Dimension dimension;
};
/// Units that the project's own outputs write as the last word of a name.
constexpr std::array words{Word{"percent", "%", Dimension::ratio}, Word{"fraction", "fraction", Dimension::ratio},
                           Word{"ppm", "ppm", Dimension::ratio}, Word{"kpa", "kPa", Dimension::pressure},
                           Word{"hpa", "hPa", Dimension::pressure}};

std::optional<Unit> usable_unit(const std::vector<Unit>& units) {
  const auto found = std::find_if(units.begin(), units.end(), [](const Unit& u) {
    return u.dimension == Dimension::ratio || u.dimension == Dimension::pressure;
  });
  return found == units.end() ? std::nullopt : std::optional{*found};
}

/// Takes the unit off the end of a name, in brackets or as its last word.
std::optional<Unit> take_unit(std::string_view& name) {
  for (const std::string_view pair : {"[]", "()"}) {
    const auto open = name.rfind(pair[0]);
    if (open == name.npos || name.back() != pair[1]) continue;
    const auto unit = usable_unit(logfile::units_in(name.substr(open + 1, name.size() - open - 2)));
    name = trimmed(name.substr(0, open));
    return unit;
  }
  const auto gap = name.find_last_of(" _");
  if (gap == name.npos) return std::nullopt;
  const auto last = name.substr(gap + 1);
  const auto own = std::find_if(words.begin(), words.end(), [&](const Word& w) { return w.word == lower_case(last); });
  auto unit = own == words.end() ? usable_unit(logfile::units_in(last))
                                 : std::optional{*compensation::find_unit(own->symbol, own->dimension)};
  if (unit) name = trimmed(name.substr(0, gap));
  return unit;
}

bool take_word(std::string_view& name, std::string_view word) {
  const auto start = lower_case(name.substr(0, word.size() + 1));
  if (start.size() <= word.size() || !start.starts_with(word) || (start.back() != ' ' && start.back() != '_'))
    return false;
  name = trimmed(name.substr(word.size() + 1));
  return true;
}

std::optional<Measurand> gas_in(std::string_view name, const std::optional<Unit>& unit) {
  const auto lower = lower_case(name);
  if (lower.find("co2") != lower.npos || lower.find("carbon") != lower.npos) return Measurand::carbon_dioxide;
  if (unit && unit->symbol.starts_with("ppm")) return Measurand::carbon_dioxide;
  return std::nullopt;
}

} // namespace

ColumnMeaning meaning_of(std::string_view full_name, std::string_view unit_below) {
  ColumnMeaning meaning;
  auto name = trimmed(full_name);
  if (name.empty()) return meaning;
  const auto as_named = [&](std::string_view text) {
    return std::find_if(known_columns.begin(), known_columns.end(),
                        [&](const Known& k) { return k.name == lower_case(text); });
  };
  const bool whole = as_named(name) != known_columns.end(); // "oxygen_quality" is no quality of "oxygen"
  if (!whole) meaning.unit = take_unit(name);
  if (!meaning.unit) meaning.unit = usable_unit(logfile::units_in(unit_below));
  const bool u = !whole && take_word(name, "u");
  const bool quality = !whole && !u && take_word(name, "quality");
  const auto found = as_named(name);
  if (found != known_columns.end()) {
    meaning.role = found->role;
    meaning.gas = found->gas;
  } else if (name.find('/') != name.npos || meaning.unit || u || quality) {
    meaning.role = Role::value;
    meaning.gas = gas_in(name, meaning.unit);
    meaning.sensor = name;
  }
  if (quality) meaning.role = Role::quality;
  if (u && meaning.role == Role::value) meaning.role = Role::u_value;
  if (u && meaning.role == Role::po2) meaning.role = Role::u_po2;
  return meaning;
}

} // namespace oxherd::daemon::rehearse
