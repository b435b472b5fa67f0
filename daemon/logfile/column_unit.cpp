#include "daemon/logfile/column_unit.hpp"

#include <algorithm>
#include <array>

#include "daemon/logfile/row.hpp"

namespace oxherd::daemon::logfile {
namespace {

using compensation::Dimension;
using compensation::Unit;

constexpr std::array column_dimensions{Dimension::voltage, Dimension::temperature, Dimension::humidity,
                                       Dimension::pressure, Dimension::ratio};

/// Spellings that loggers have and a recipe has not (common practice).
struct Spelling {
  std::string_view text; ///< in small letters
  std::string_view symbol;
  Dimension dimension;
};
constexpr std::array<Spelling, 14> spellings{{{"deg c", "°C", Dimension::temperature},
                                              {"deg. c", "°C", Dimension::temperature},
                                              {"celsius", "°C", Dimension::temperature},
                                              {"deg f", "°F", Dimension::temperature},
                                              {"fahrenheit", "°F", Dimension::temperature},
                                              {"% rh", "%RH", Dimension::humidity},
                                              {"%r.h.", "%RH", Dimension::humidity},
                                              {"mb", "mbar", Dimension::pressure},
                                              {"millibar", "mbar", Dimension::pressure},
                                              {"vol%", "%", Dimension::ratio},
                                              {"vol.%", "%", Dimension::ratio},
                                              {"% vol", "%", Dimension::ratio},
                                              {"%vol", "%", Dimension::ratio},
                                              {"% o2", "%", Dimension::ratio}}};

} // namespace

std::string lower_case(std::string_view text) {
  std::string out{text};
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

std::vector<Unit> units_in(std::string_view spelling) {
  std::vector<Unit> found;
  const auto wanted = lower_case(trimmed(spelling));
  if (wanted.empty() || wanted == "1" || wanted == "/")
    return found; // units by name, but what loggers write for others
  for (const auto dimension : column_dimensions) {
    const auto units = compensation::units_of(dimension);
    auto unit = std::find_if(units.begin(), units.end(), [&](const Unit& u) { return u.symbol == trimmed(spelling); });
    if (unit == units.end())
      unit = std::find_if(units.begin(), units.end(), [&](const Unit& u) { return lower_case(u.symbol) == wanted; });
    if (unit != units.end()) found.push_back(*unit);
  }
  for (const auto& other : spellings)
    if (other.text == wanted) found.push_back(*compensation::find_unit(other.symbol, other.dimension));
  return found;
}

std::vector<Unit> units_in_name(std::string_view name) {
  for (const std::string_view pair : {"[]", "()"}) {
    const auto open = name.rfind(pair[0]);
    const auto close = name.rfind(pair[1]);
    if (open == name.npos || close == name.npos || close < open) continue;
    if (auto found = units_in(name.substr(open + 1, close - open - 1)); !found.empty()) return found;
  }
  const auto word = trimmed(name.substr(std::min(name.find_last_of(" _,/;") + 1, name.size())));
  const bool letter = word.size() == 1 && word != "%"; // "cell C" is no temperature
  return letter ? std::vector<Unit>{} : units_in(word);
}

} // namespace oxherd::daemon::logfile
