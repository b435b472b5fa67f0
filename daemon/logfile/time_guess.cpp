#include "daemon/logfile/time_guess.hpp"

#include <algorithm>
#include <array>
#include <string_view>

#include "daemon/logfile/column_unit.hpp"
#include "daemon/logfile/time_format.hpp"

namespace oxherd::daemon::logfile {
namespace {

// What loggers write (common practice). Of two that read a row alike, the first one is taken.
constexpr std::array<std::string_view, 15> dates{"%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d.%m.%Y", "%d.%m.%y",
                                                 "%d/%m/%Y", "%m/%d/%Y", "%d/%m/%y", "%m/%d/%y", "%d-%m-%Y",
                                                 "%m-%d-%Y", "%d-%b-%Y", "%d %b %Y", "%d-%b-%y", "%Y%m%d"};
constexpr std::array<std::string_view, 6> times_of_day{"%H:%M:%S", "%H:%M",      "%I:%M:%S %p",
                                                       "%I:%M %p", "%H:%M:%S%z", "%H%M%S"};
constexpr FileTime year_2000_ms = 946'684'800'000;
constexpr FileTime year_2100_ms = 4'102'444'800'000;

bool has_word(std::string_view name, std::string_view word) { return lower_case(name).find(word) != std::string::npos; }

bool is_named_for_time(std::string_view name) {
  constexpr std::array<std::string_view, 9> words{"time", "date",  "stamp", "datum", "zeit",
                                                  "tijd", "epoch", "unix",  "utc"};
  return std::any_of(words.begin(), words.end(), [name](std::string_view word) { return has_word(name, word); });
}

/// The times of all rows by one format; nothing when there is a row that it does not read. Rows without a time count
/// for none.
struct Readings {
  std::vector<FileTime> shown;
  bool states_offset = true;
};
std::optional<Readings> read_all(const std::vector<std::string>& texts, std::string_view format_text) {
  auto format = TimeFormat::make(format_text);
  if (!format) return std::nullopt;
  Readings all;
  for (const auto& text : texts) {
    if (text.empty() || text == " ") continue;
    const auto one = format->read(text);
    if (!one) return std::nullopt;
    all.shown.push_back(one->shown);
    all.states_offset = all.states_offset && one->offset.has_value();
  }
  if (all.shown.empty()) return std::nullopt;
  return all;
}

/// Keeps the formats that read all these texts, each in its own way.
bool try_formats(const std::vector<std::string>& texts, const std::vector<std::string>& formats, TimeGuess& guess) {
  std::vector<std::vector<FileTime>> ways;
  for (const auto& format : formats) {
    const auto all = read_all(texts, format);
    if (!all || std::find(ways.begin(), ways.end(), all->shown) != ways.end()) continue;
    ways.push_back(all->shown);
    guess.formats.push_back(format);
    guess.states_offset = all->states_offset;
  }
  return !guess.formats.empty();
}

std::vector<std::string> column_texts(const TableShape& shape, std::size_t first, bool pair) {
  std::vector<std::string> texts;
  texts.reserve(shape.rows.size());
  for (const auto& row : shape.rows) texts.push_back(pair ? row[first] + ' ' + row[first + 1] : row[first]);
  return texts;
}

bool is_epoch(const std::vector<std::string>& texts, std::string_view format) {
  const auto all = read_all(texts, format);
  return all && std::all_of(all->shown.begin(), all->shown.end(),
                            [](FileTime t) { return t >= year_2000_ms && t < year_2100_ms; });
}

} // namespace

std::optional<TimeGuess> guess_time(const TableShape& shape) {
  std::vector<std::string> formats{"iso"};
  for (const auto date : dates)
    for (const auto time : times_of_day) formats.push_back(std::string{date} + ' ' + std::string{time});
  const std::size_t width = shape.names.size();
  for (std::size_t i = 0; i < width; ++i)
    for (const bool pair : {false, true}) {
      if (pair && i + 1 == width) continue;
      TimeGuess guess{.columns = {i}, .formats = {}};
      if (pair) guess.columns.push_back(i + 1);
      guess.named_utc = has_word(shape.names[i], "utc") || has_word(shape.names[i], "gmt") ||
                        (pair && (has_word(shape.names[i + 1], "utc") || has_word(shape.names[i + 1], "gmt")));
      const auto texts = column_texts(shape, i, pair);
      if (try_formats(texts, formats, guess)) return guess;
      if (pair || !is_named_for_time(shape.names[i])) continue;
      for (const std::string_view format : {"epoch-s", "epoch-ms"})
        if (is_epoch(texts, format)) return TimeGuess{{i}, {std::string{format}}, true, false};
    }
  return std::nullopt;
}

} // namespace oxherd::daemon::logfile
