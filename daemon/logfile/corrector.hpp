#pragma once

#include <optional>
#include <string>

#include <tl/expected.hpp>

#include "daemon/logfile/ambient_follower.hpp"
#include "daemon/logfile/cell_reader.hpp"
#include "daemon/logfile/fields.hpp"
#include "daemon/logfile/recipe.hpp"
#include "daemon/logfile/summary.hpp"
#include "daemon/logfile/table_start.hpp"

namespace oxherd::daemon::logfile {

/// Corrects the rows of one file, one after the other, and appends each to the output with what was added: the bytes
/// of the row stay as they are, and so does its line end.
class Corrector {
public:
  /// @param ambient  the second file; may be null when no input comes from it
  Corrector(const Recipe& recipe, const Layout& layout, AmbientFollower* ambient, Summary& summary);
  /// Appends the row to `out`.
  [[nodiscard]] tl::expected<void, Failure> add(const Row& row, std::string& out);
  /// Appends the header or the line of units, extended by the added columns.
  void add_header(const Row& row, LineKind kind, std::string& out) const;

private:
  enum class Verdict { good, uncertain, bad };
  /// Everything known of the row at hand.
  struct State {
    Verdict verdict = Verdict::good;
    std::array<Cause, 8> causes{};
    std::size_t cause_count = 0;
    std::optional<FileTime> time;
    compensation::GasConditions gas;
    tl::expected<compensation::OxygenReading, compensation::ReadingError> reading;
  };

  void note(Cause cause, Verdict verdict);
  [[nodiscard]] bool has_right_shape(const Row& row);
  void take_time(const Row& row);
  /// False when the row has no such value; why is noted.
  [[nodiscard]] tl::expected<bool, Failure> input(const Row& row, Quantity quantity, const Source& source,
                                                  Uncertain<double>& to);
  [[nodiscard]] tl::expected<void, Failure> correct(const Row& row);
  void read(Uncertain<double> signal);
  void count(const Row& row);
  void append_fields(std::string& out) const;
  void append_number(Added added, std::string& out) const;
  void append_text(std::string_view text, std::string& out) const;
  void pad(const Row& row, std::string& out) const;
  [[nodiscard]] Uncertain<Pressure> station(Uncertain<double> given) const;

  const Recipe* recipe_;
  const Layout* layout_;
  AmbientFollower* ambient_;
  Summary* summary_;
  FieldReader fields_;
  CellReader cell_;
  std::string missing_;
  std::optional<GeopotentialAltitude> altitude_; ///< given when the pressure is reduced to sea level
  bool needs_time_ = false;                      ///< an input is matched by time
  bool has_probe_ = false;
  bool quotes_numbers_ = false; ///< the decimal mark is also the delimiter
  std::optional<FileTime> previous_;
  State state_;
};

} // namespace oxherd::daemon::logfile
