#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/logfile/ambient_follower.hpp"
#include "daemon/logfile/cell_reader.hpp"
#include "daemon/logfile/fields.hpp"
#include "daemon/logfile/piece_buffer.hpp"
#include "daemon/logfile/reading_block.hpp"
#include "daemon/logfile/recipe.hpp"
#include "daemon/logfile/summary.hpp"
#include "daemon/logfile/table_start.hpp"

namespace oxherd::daemon::logfile {

/// Corrects the rows of one file, one after the other, and appends each to the output with what was added: the bytes
/// of the row stay as they are, and so does its line end. Rows wait until a block of them can be read together.
class Corrector {
public:
  /// @param ambient  the second file; may be null when no input comes from it
  Corrector(const Recipe& recipe, const Layout& layout, AmbientFollower* ambient, Summary& summary);
  /// Takes the row; it, or any before it, is appended to `out` now or later.
  [[nodiscard]] tl::expected<void, Failure> add(const Row& row, std::string& out);
  /// Appends every row that waits. To be called behind the last row.
  void flush(std::string& out);
  /// Appends the header or the line of units, extended by the added columns.
  void add_header(const Row& row, LineKind kind, std::string& out) const;

private:
  enum class Verdict : std::uint8_t { good, uncertain, bad };
  /// A row that waits for its block; its text is kept in `text_`.
  struct Waiting {
    std::size_t text = 0; ///< where its bytes begin
    std::size_t bytes = 0;
    std::size_t line_end = 0; ///< bytes of it, behind the row
    std::size_t fields = 0;
    std::uint64_t line = 0;
    std::optional<FileTime> time;
    std::array<Cause, 8> causes{};
    std::uint8_t cause_count = 0;
    Verdict verdict = Verdict::good;
    bool is_data = false; ///< false: kept as it stands, nothing is added
  };

  struct Varying {
    Quantity quantity;
    const Source* source;
  };

  static void note(Waiting& row, Cause cause, Verdict verdict);
  void judge_shape(const Row& row, Waiting& waiting) const;
  /// Appends the rows that wait, when this one belongs to another block.
  void take_time(const Row& row, Waiting& waiting, std::string& out);
  [[nodiscard]] tl::expected<void, Failure> take_inputs(const Row& row, Waiting& waiting);
  void keep_text(const Row& row, Waiting& waiting);
  void judge(Waiting& row, std::size_t i);
  void count(const Waiting& row, std::size_t i);
  void append_row(const Waiting& row, std::size_t i, PieceBuffer& out) const;
  void append_fields(const Waiting& row, std::size_t i, PieceBuffer& out) const;
  void append_number(Added added, std::size_t i, PieceBuffer& out) const;
  void append_text(std::string_view text, PieceBuffer& out) const;
  void append_remark(const Waiting& row, PieceBuffer& out) const;
  void pad(std::size_t fields, PieceBuffer& out) const;
  [[nodiscard]] Uncertain<double> at_place(Quantity quantity, Uncertain<double> given);

  const Recipe* recipe_;
  const Layout* layout_;
  AmbientFollower* ambient_;
  Summary* summary_;
  FieldReader fields_;
  CellReader cell_;
  std::string missing_;
  std::optional<GeopotentialAltitude> altitude_;                 ///< given when the pressure is reduced to sea level
  double reduced_Pa_ = std::numeric_limits<double>::quiet_NaN(); ///< the last pressure of a report, with that at the
  double at_place_Pa_ = 0.0;                                     ///< place; not a number before the first
  bool needs_time_ = false;                                      ///< an input is matched by time
  bool quotes_numbers_ = false;                                  ///< the decimal mark is also the delimiter
  std::vector<Varying> varying_;                                 ///< inputs that are not the same in all rows
  std::optional<FileTime> previous_;
  std::string text_;
  std::array<Waiting, ReadingBlock::rows> waiting_;
  std::size_t waiting_count_ = 0;
  ReadingBlock block_; ///< row i of it is that of `waiting_`; rows without inputs keep what was there
};

} // namespace oxherd::daemon::logfile
