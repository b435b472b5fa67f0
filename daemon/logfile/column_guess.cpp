#include "daemon/logfile/column_guess.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include <fmt/core.h>

#include "config/measurands.hpp"
#include "config/rules.hpp"
#include "daemon/logfile/column_unit.hpp"
#include "daemon/logfile/number.hpp"

namespace oxherd::daemon::logfile {
namespace {

using compensation::Dimension;
using compensation::Unit;
using config::Measurand;

/// What speaks for a column of one quantity. The words are the project's own choice of what people write.
struct Clue {
  Quantity quantity;
  std::string_view said;                    ///< "its name says ..."
  std::span<const std::string_view> words;  ///< whole words of a name, in small letters
  std::span<const std::string_view> starts; ///< or how a word begins
  std::span<const Dimension> dimensions;
};
constexpr std::array<std::string_view, 2> signal_words{"o2", "signal"};
constexpr std::array<std::string_view, 4> signal_starts{"oxyg", "sauerst", "zuurst", "o2"};
constexpr std::array<std::string_view, 4> temperature_words{"t", "ta", "tair", "air_t"};
constexpr std::array<std::string_view, 1> temperature_starts{"temp"};
constexpr std::array<std::string_view, 3> humidity_words{"rh", "rf", "hr"};
constexpr std::array<std::string_view, 4> humidity_starts{"hum", "feucht", "vocht", "hygro"};
constexpr std::array<std::string_view, 2> pressure_words{"p", "qfe"};
constexpr std::array<std::string_view, 4> pressure_starts{"press", "baro", "druck", "luftdr"};
constexpr std::array<std::string_view, 4> reduced_words{"qnh", "qff", "slp", "msl"};
constexpr std::array signal_dimensions{Dimension::voltage, Dimension::ratio};
constexpr std::array temperature_dimensions{Dimension::temperature};
constexpr std::array humidity_dimensions{Dimension::humidity};
constexpr std::array pressure_dimensions{Dimension::pressure};
constexpr std::array<Clue, 4> clues{
    {{Quantity::signal, "oxygen or signal", signal_words, signal_starts, signal_dimensions},
     {Quantity::temperature, "temperature", temperature_words, temperature_starts, temperature_dimensions},
     {Quantity::humidity, "humidity", humidity_words, humidity_starts, humidity_dimensions},
     {Quantity::pressure, "pressure", pressure_words, pressure_starts, pressure_dimensions}}};

/// What a room's air has, for concluding a unit that is nowhere stated: narrower than what is accepted.
/// 5 °C to 45 °C, weather from the sea to 4 km; proposals of the project.
struct Likely {
  Dimension dimension;
  double low_si, high_si;
};
constexpr std::array<Likely, 3> likely{
    {{Dimension::temperature, 278.15, 318.15}, {Dimension::humidity, 0.03, 1.0}, {Dimension::pressure, 60e3, 108.5e3}}};

/// One column, read.
struct ColumnValues {
  std::vector<double> numbers;
  std::vector<std::string> texts; ///< what is neither empty nor a number
};

ColumnValues values_of(const TableShape& shape, std::size_t column) {
  ColumnValues values;
  for (const auto& row : shape.rows) {
    const auto& field = row[column];
    if (const auto number = parse_number(field, shape.dialect.decimal))
      values.numbers.push_back(*number);
    else if (!field.empty())
      values.texts.push_back(field);
  }
  return values;
}

/// The words of a name in small letters; one with a number behind it ("RH1") also without.
std::vector<std::string> words_of(std::string_view name) {
  std::vector<std::string> words(1);
  for (const char c : lower_case(name)) {
    const bool part = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || static_cast<unsigned char>(c) >= 0x80;
    if (part)
      words.back() += c;
    else if (!words.back().empty())
      words.emplace_back();
  }
  for (std::size_t i = words.size(); i-- > 0;)
    words.push_back(words[i].substr(0, words[i].find_last_not_of("0123456789") + 1));
  return words;
}

bool has_any(const std::vector<std::string>& words, std::span<const std::string_view> wanted) {
  return std::any_of(wanted.begin(), wanted.end(),
                     [&](std::string_view one) { return std::find(words.begin(), words.end(), one) != words.end(); });
}

bool begins_any(const std::vector<std::string>& words, std::span<const std::string_view> starts) {
  return std::any_of(starts.begin(), starts.end(), [&](std::string_view start) {
    return std::any_of(words.begin(), words.end(), [start](const auto& word) { return word.starts_with(start); });
  });
}

/// Whether nine in ten values are ones that a recipe would accept.
bool acceptable(const ColumnValues& values, const Unit& unit) {
  double low = config::cell_signal.low;
  double high = config::cell_signal.high;
  if (unit.dimension != Dimension::voltage)
    for (const auto& delivery : config::deliveries())
      if (delivery.dimension == unit.dimension && delivery.measurand != Measurand::sea_level_pressure &&
          delivery.measurand != Measurand::carbon_dioxide && delivery.measurand != Measurand::over_pressure) {
        low = delivery.lowest_si.value_or(low);
        high = delivery.highest_si.value_or(high);
      }
  const auto inside = std::count_if(values.numbers.begin(), values.numbers.end(), [&](double value) {
    const double si = compensation::to_si(unit, value);
    return si >= low && si <= high;
  });
  return static_cast<std::size_t>(inside) * 10 >= values.numbers.size() * 9;
}

double median_of(std::vector<double> numbers) {
  const auto middle = numbers.begin() + static_cast<std::ptrdiff_t>(numbers.size() / 2);
  std::nth_element(numbers.begin(), middle, numbers.end());
  return *middle;
}

/// The only unit by which the values are those of a room; two names of one unit (or nearly one: mmHg, Torr) count once.
std::optional<Unit> unit_by_values(const ColumnValues& values, Dimension dimension) {
  const auto span =
      std::find_if(likely.begin(), likely.end(), [&](const Likely& l) { return l.dimension == dimension; });
  if (span == likely.end()) return std::nullopt;
  std::optional<Unit> only;
  const double median = median_of(values.numbers);
  for (const auto& unit : compensation::units_of(dimension)) {
    const double si = compensation::to_si(unit, median);
    if (si < span->low_si || si > span->high_si || !acceptable(values, unit)) continue;
    if (only && (std::fabs(only->scale / unit.scale - 1.0) > 1e-6 || only->offset != unit.offset)) return std::nullopt;
    if (!only) only = unit;
  }
  return only;
}

/// A column judged for one quantity.
struct Judged {
  int score = 0; ///< 0: it is not that
  bool unit_stated = false;
  ColumnGuess guess;
};

std::string range_text(const ColumnValues& values) {
  const auto [least, greatest] = std::minmax_element(values.numbers.begin(), values.numbers.end());
  return fmt::format("{} value{} from {:g} to {:g}", values.numbers.size(), values.numbers.size() == 1 ? "" : "s",
                     *least, *greatest);
}

Judged judge(const TableShape& shape, std::size_t column, const Clue& clue) {
  Judged judged;
  auto& guess = judged.guess;
  guess.column = column;
  const auto values = values_of(shape, column);
  const auto words = words_of(shape.names[column]);
  const bool foreign = has_any(words, std::array<std::string_view, 3>{"co2", "carbon", "dioxide"});
  if (foreign || values.numbers.empty() || values.texts.size() * 4 > values.numbers.size()) return judged;
  guess.reduced = clue.quantity == Quantity::pressure && has_any(words, reduced_words);
  const bool named = guess.reduced || has_any(words, clue.words) || begins_any(words, clue.starts);
  auto units = shape.units.empty() ? std::vector<Unit>{} : units_in(shape.units[column]);
  const bool in_line = !units.empty();
  if (!in_line) units = units_in_name(shape.names[column]);
  const auto fits = [&](const Unit& unit) {
    return std::find(clue.dimensions.begin(), clue.dimensions.end(), unit.dimension) != clue.dimensions.end();
  };
  const auto unit = std::find_if(units.begin(), units.end(), fits);
  if (unit == units.end() && (!units.empty() || !named)) return judged; // stated in a unit of something else
  if (unit != units.end()) {
    // A percentage says nothing by itself: it needs its name, unless it is written %RH.
    if (units.size() + (unit->dimension == Dimension::ratio ? 1 : 0) > 1 && !named) return judged;
    guess.unit = *unit;
    judged.unit_stated = true;
  } else {
    guess.unit = unit_by_values(values, clue.dimensions.front());
  }
  if (guess.unit && !acceptable(values, *guess.unit)) return judged;
  judged.score = (named ? 2 : 0) + (judged.unit_stated ? 3 : 0) + (guess.reduced ? 0 : 1) +
                 (guess.unit && guess.unit->dimension == Dimension::voltage ? 1 : 0);
  if (named)
    guess.why =
        guess.reduced ? "its name says pressure reduced to sea level" : fmt::format("its name says {}", clue.said);
  if (judged.unit_stated)
    guess.why += fmt::format("{}its unit is {}", guess.why.empty() ? "" : "; ",
                             in_line ? "in the line of units" : "in its name");
  else if (guess.unit)
    guess.why += fmt::format("; only in {} are these values of a room", guess.unit->symbol);
  guess.why += "; " + range_text(values);
  return judged;
}

void add_missing(const TableShape& shape, const ColumnGuess& guess, std::vector<std::string>& missing) {
  const Format known;
  for (const auto& text : values_of(shape, guess.column).texts) {
    const auto there = [&](const auto& list) { return std::find(list.begin(), list.end(), text) != list.end(); };
    if (!there(known.missing) && !there(missing)) missing.push_back(text);
  }
}

} // namespace

ColumnGuesses guess_columns(const TableShape& shape) {
  ColumnGuesses guesses;
  for (const auto& clue : clues) {
    Judged best;
    std::vector<std::size_t> possible;
    for (std::size_t column = 0; column < shape.names.size(); ++column) {
      auto judged = judge(shape, column, clue);
      if (judged.score == 0) continue;
      possible.push_back(column);
      if (judged.score > best.score) best = std::move(judged);
    }
    if (best.score == 0) continue;
    std::erase(possible, best.guess.column);
    best.guess.others = std::move(possible);
    add_missing(shape, best.guess, guesses.missing);
    guesses.of[static_cast<std::size_t>(clue.quantity)] = std::move(best.guess);
  }
  return guesses;
}

} // namespace oxherd::daemon::logfile
