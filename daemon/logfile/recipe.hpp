#pragma once

#include <array>
#include <chrono>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "compensation/units.hpp"
#include "config/load.hpp"
#include "config/settings.hpp"
#include "config/signal_rules.hpp"
#include "config/zone_rules.hpp"
#include "daemon/logfile/time_format.hpp"

namespace oxherd::daemon::logfile {

/// A column as the recipe names it, and the place in the recipe that a person must look at when it is not there.
struct ColumnName {
  std::string name; ///< as in the header; empty when it goes by number
  int number = 0;   ///< from 1
  std::string said; ///< "RECIPE:LINE:COLUMN: KEY", the start of a message
};

/// [format] and [ambient.format]: how rows are written. What is absent is found out from the first rows.
struct Format {
  std::optional<char> delimiter;
  bool blanks = false;
  std::optional<char> decimal;
  std::optional<int> preamble; ///< lines before the header (or the first row)
  bool header = true;
  bool units_line = false; ///< a second line of header holds units
  bool quotes = true;
  std::string comment;
  /// What loggers write for a value they have not (common practice).
  std::vector<std::string> missing{"", "NaN", "nan", "NAN", "NA", "N/A", "null", "-", "--", "---"};
};

/// [time] and [ambient.time]. Date and time of day may stand in two columns, joined by one blank for the format.
struct TimeColumns {
  std::vector<ColumnName> columns;
  TimeFormat format;
  std::chrono::minutes offset{0};                ///< of a time that states none
  std::shared_ptr<const config::ZoneRules> zone; ///< given: in place of the offset, for a clock that follows a zone
  bool zone_stated = false;
};

/// The inputs of a correction that a file can deliver.
enum class Quantity { signal, temperature, humidity, humidity_temperature, pressure };
inline constexpr std::size_t quantity_count = 5;
inline constexpr std::array<Quantity, quantity_count> all_quantities{
    Quantity::signal, Quantity::temperature, Quantity::humidity, Quantity::humidity_temperature, Quantity::pressure};
[[nodiscard]] std::string_view name_of(Quantity quantity); ///< words for a remark: "humidity probe temperature"

/// Where an input comes from.
struct Source {
  enum class From { column, ambient, constant };
  From from = From::constant;
  ColumnName column;
  compensation::Unit unit{};
  double constant_si = 0.0;
  double u_si = 0.0; ///< standard uncertainty
  double low_si = 0.0;
  double high_si = 0.0; ///< values outside this span are refused: a wrong unit, a broken probe
  /// What stands in where a row has no value; the row is then marked uncertain.
  struct Otherwise {
    double si = 0.0;
    double u_si = 0.0;
  };
  std::optional<Otherwise> otherwise;
};

/// [ambient]: a second file with what the first one lacks, matched by time.
struct Ambient {
  std::filesystem::path file;
  std::chrono::milliseconds max_gap{};
  Format format;
  std::optional<TimeColumns> time;
};

/// What can be added to each row.
enum class Added {
  oxygen,
  u_oxygen,
  oxygen_wet,
  u_oxygen_wet,
  po2,
  u_po2,
  sea_level_equivalent,
  uncorrected,
  pressure,
  vapour_pressure,
  time,
  quality,
  remark
};
struct AddedColumn {
  Added added;
  std::string_view word;   ///< in the recipe
  std::string_view header; ///< in the file: with the unit
  std::string_view unit;   ///< for a line of units
};
[[nodiscard]] const AddedColumn& column_of(Added added);
[[nodiscard]] std::vector<std::string> added_words();

/// [output]
struct Output {
  std::vector<Added> columns{Added::oxygen, Added::u_oxygen, Added::quality, Added::remark};
  int decimals = 4;
  std::string prefix;  ///< in front of each added name
  std::string missing; ///< written where there is no value
  bool caution_lines = false;
};

/// How one kind of logger file is corrected: the columns, the cell and its calibration.
struct Recipe {
  std::string name; ///< of the file, for messages
  std::string text; ///< as read
  Format format;
  std::optional<TimeColumns> time;
  std::array<std::optional<Source>, quantity_count> sources;
  bool pressure_is_sea_level = false; ///< reduced to sea level; the station pressure follows from the site's elevation
  std::optional<config::Site> site;
  config::CellSettings cell;
  config::CalibrationSettings calibration;
  std::optional<Ambient> ambient;
  Output output;
  std::vector<config::Problem> warnings;

  /// Volts, or the oxygen that a transmitter indicated, as the unit of the signal's column says. Cell, calibration and
  /// source hold signals in it.
  [[nodiscard]] config::SignalUnit signal_unit() const {
    const auto& signal = source(Quantity::signal);
    const bool ratio = signal && signal->unit.dimension == compensation::Dimension::ratio;
    return ratio ? config::SignalUnit::indicated_fraction : config::SignalUnit::volts;
  }
  [[nodiscard]] const std::optional<Source>& source(Quantity quantity) const {
    return sources[static_cast<std::size_t>(quantity)];
  }
};

/// Reads and checks a recipe. Every problem is reported, with line and column. [site], [cell] and [calibration] are
/// written as in the daemon's settings file.
[[nodiscard]] tl::expected<Recipe, std::vector<config::Problem>> load_recipe(const std::filesystem::path& file);
/// The same from text; `name` stands for the file, relative paths count from `directory`.
[[nodiscard]] tl::expected<Recipe, std::vector<config::Problem>>
parse_recipe(std::string_view text, std::string_view name, const std::filesystem::path& directory);

} // namespace oxherd::daemon::logfile
