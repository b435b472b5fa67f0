#include "daemon/logfile/corrector.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "alarms/quality.hpp"
#include "compensation/barometry.hpp"
#include "compensation/constants.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::logfile {
namespace {

constexpr std::size_t text_bytes_max = 1U << 16U; ///< of rows that wait; a longer row waits alone

} // namespace

Corrector::Corrector(const Recipe& recipe, const Layout& layout, AmbientFollower* ambient, Summary& summary)
    : recipe_{&recipe}, layout_{&layout}, ambient_{ambient}, summary_{&summary},
      fields_{layout, recipe.format, recipe.time, recipe.sources}, cell_{recipe.cell, recipe.calibration},
      missing_{recipe.output.missing}, block_{recipe.source(Quantity::humidity_temperature).has_value()} {
  if (layout.dialect.blanks && missing_.empty()) missing_ = "-"; // nothing between blanks is no field
  if (recipe.pressure_is_sea_level && recipe.site) altitude_ = compensation::geopotential(recipe.site->elevation);
  for (const auto quantity : all_quantities) {
    const auto& source = recipe.source(quantity);
    if (!source) continue;
    needs_time_ = needs_time_ || source->from == Source::From::ambient;
    if (source->from != Source::From::constant) {
      varying_.push_back({quantity, &*source});
      continue;
    }
    const auto same = at_place(quantity, {source->constant_si, source->u_si});
    block_.input(quantity).value.fill(same.value);
    block_.input(quantity).u.fill(same.u_si);
  }
  quotes_numbers_ = layout.dialect.decimal == layout.dialect.delimiter && layout.dialect.quote != 0;
}

void Corrector::note(Waiting& row, Cause cause, Verdict verdict) {
  if (row.cause_count < row.causes.size()) row.causes[row.cause_count++] = cause;
  row.verdict = std::max(row.verdict, verdict);
}

void Corrector::judge_shape(const Row& row, Waiting& waiting) const {
  if (row.too_long)
    note(waiting, too_long, Verdict::bad);
  else if (row.open_quote)
    note(waiting, open_quote, Verdict::bad);
  else if (row.fields.size() != layout_->columns)
    note(waiting, row.fields.size() < layout_->columns ? fewer_fields : more_fields, Verdict::bad);
}

void Corrector::take_time(const Row& row, Waiting& waiting, std::string& out) {
  if (!fields_.has_time()) return;
  const auto [time, trouble] = fields_.time(row);
  waiting.time = time;
  if (trouble) note(waiting, *trouble, needs_time_ && !time ? Verdict::bad : Verdict::uncertain);
  if (!time) return;
  if (previous_ && *waiting.time <= *previous_) summary_->not_increasing.add(row.line);
  previous_ = waiting.time;
  summary_->taken_as_utc = fields_.took_utc();
  if (cell_.changes_at(*waiting.time)) flush(out);
  cell_.use_at(*waiting.time);
}

/// Makes a pressure that a report has reduced to sea level that at the place; its uncertainty is taken over: at a
/// height it is a little smaller. Everything else stays as it is.
Uncertain<double> Corrector::at_place(Quantity quantity, Uncertain<double> given) {
  if (quantity != Quantity::pressure || !altitude_) return given;
  if (given.value != reduced_Pa_) { // one report counts for many rows
    const auto p = compensation::station_pressure(SeaLevelPressure::from_si(given.value), *altitude_);
    reduced_Pa_ = given.value;
    at_place_Pa_ = p ? p->si() : std::nan(""); // NaN is refused by the reading, with its reason
  }
  return {at_place_Pa_, given.u_si};
}

tl::expected<void, Failure> Corrector::take_inputs(const Row& row, Waiting& waiting) {
  for (const auto& [quantity, from] : varying_) {
    const Source& source = *from;
    FieldValue value;
    if (source.from == Source::From::column) {
      value = fields_.value(row, quantity);
    } else {
      if (!waiting.time) continue; // noted already
      const auto near = ambient_->value(quantity, *waiting.time);
      if (!near) return tl::unexpected(near.error());
      value = *near;
    }
    Uncertain<double> given{value.si, source.u_si};
    if (!value.ok && source.otherwise) {
      note(waiting, cause_of(quantity, Trouble::assumed), Verdict::uncertain);
      given = {source.otherwise->si, source.otherwise->u_si};
    } else if (!value.ok) {
      note(waiting, cause_of(quantity, value.trouble), Verdict::bad);
      continue;
    }
    given = at_place(quantity, given);
    auto& column = block_.input(quantity);
    column.value[waiting_count_] = given.value;
    column.u[waiting_count_] = given.u_si;
  }
  return {};
}

void Corrector::keep_text(const Row& row, Waiting& waiting) {
  waiting.text = text_.size();
  waiting.bytes = row.bytes.size();
  waiting.line_end = row.line_end.size();
  text_ += row.bytes;
  text_ += row.line_end;
}

tl::expected<void, Failure> Corrector::add(const Row& row, std::string& out) {
  Waiting waiting;
  waiting.fields = row.fields.size();
  waiting.line = row.line;
  waiting.is_data = !row.unfinished && !is_no_row(row, layout_->dialect);
  if (waiting.is_data) {
    judge_shape(row, waiting);
    if (waiting.cause_count == 0) {
      take_time(row, waiting, out);
      if (const auto done = take_inputs(row, waiting); !done) return tl::unexpected(done.error());
    }
  } else if (!row.unfinished) {
    ++summary_->other_lines;
  }
  keep_text(row, waiting);
  waiting_[waiting_count_++] = waiting;
  if (waiting_count_ == waiting_.size() || text_.size() > text_bytes_max) flush(out);
  return {};
}

void Corrector::flush(std::string& out) {
  cell_.read(block_, waiting_count_);
  PieceBuffer pieces{out};
  for (std::size_t i = 0; i < waiting_count_; ++i) {
    Waiting& row = waiting_[i];
    if (row.is_data) {
      judge(row, i);
      count(row, i);
    }
    append_row(row, i, pieces);
  }
  waiting_count_ = 0;
  text_.clear();
}

/// Takes the reading into account.
void Corrector::judge(Waiting& row, std::size_t i) {
  if (row.verdict == Verdict::bad) return;
  if (block_.valid[i] == 0) {
    note(row, no_reading, Verdict::bad);
    if (summary_->no_reading_example.empty()) summary_->no_reading_example = cell_.why_none(block_, i);
  } else if (cell_.is_near_zero(block_.signal_of(i).value)) {
    note(row, near_zero, Verdict::uncertain);
  }
}

void Corrector::count(const Waiting& row, std::size_t i) {
  ++summary_->rows;
  for (std::size_t k = 0; k < row.cause_count; ++k) summary_->causes.at(row.causes[k]).add(row.line);
  if (row.verdict == Verdict::bad) {
    ++summary_->bad;
    return;
  }
  ++(row.verdict == Verdict::good ? summary_->good : summary_->uncertain);
  const double dry = block_.dry[i];
  if (!summary_->least || dry < summary_->least->value) summary_->least = {dry, row.line};
  if (!summary_->greatest || dry > summary_->greatest->value) summary_->greatest = {dry, row.line};
  summary_->u_greatest = std::max(summary_->u_greatest, block_.u_dry[i]);
}

void Corrector::append_row(const Waiting& row, std::size_t i, PieceBuffer& out) const {
  const auto text = std::string_view{text_}.substr(row.text, row.bytes + row.line_end);
  out.add(text.substr(0, row.bytes));
  if (row.is_data) {
    pad(row.fields, out);
    append_fields(row, i, out);
  }
  out.add(text.substr(row.bytes));
}

/// A row with fewer fields than others gets empty ones, so that the added columns stand under their names.
void Corrector::pad(std::size_t fields, PieceBuffer& out) const {
  if (layout_->dialect.blanks || fields == 0) return;
  for (std::size_t i = fields; i < layout_->width; ++i) out.add(layout_->dialect.delimiter);
}

void Corrector::append_text(std::string_view text, PieceBuffer& out) const {
  const auto& dialect = layout_->dialect;
  const bool special = text.find(dialect.delimiter) != text.npos || text.find(dialect.quote) != text.npos;
  if (!special || dialect.quote == 0) {
    out.add(text);
    return;
  }
  out.add(dialect.quote);
  for (const char c : text) {
    out.add(c);
    if (c == dialect.quote) out.add(c);
  }
  out.add(dialect.quote);
}

void Corrector::append_number(Added added, std::size_t i, PieceBuffer& out) const {
  double value = 0.0;
  switch (added) {
  case Added::oxygen: value = block_.dry[i] * 100.0; break;
  case Added::u_oxygen: value = block_.u_dry[i] * 100.0; break;
  case Added::oxygen_wet: value = block_.wet[i] * 100.0; break;
  case Added::u_oxygen_wet: value = block_.u_wet[i] * 100.0; break;
  case Added::po2: value = block_.po2_Pa[i] / 1e3; break;
  case Added::u_po2: value = block_.u_po2_Pa[i] / 1e3; break;
  case Added::sea_level_equivalent: value = block_.po2_Pa[i] / compensation::standard_atmosphere * 100.0; break;
  case Added::uncorrected: value = block_.uncorrected[i] * 100.0; break;
  case Added::pressure: value = block_.gas_of(i).pressure.value.si() / 1e3; break;
  case Added::vapour_pressure: value = block_.vapour_Pa[i] / 1e3; break;
  case Added::time:
  case Added::quality:
  case Added::remark: return; // no numbers
  }
  const auto& dialect = layout_->dialect;
  if (quotes_numbers_) out.add(dialect.quote);
  out.add_fixed(value, recipe_->output.decimals, dialect.decimal);
  if (quotes_numbers_) out.add(dialect.quote);
}

void Corrector::append_remark(const Waiting& row, PieceBuffer& out) const {
  if (row.cause_count == 0) { // nothing is allocated for a good row
    if (layout_->dialect.blanks) out.add('-');
    return;
  }
  std::string remark;
  for (std::size_t i = 0; i < row.cause_count; ++i) {
    if (i > 0) remark += " and ";
    remark += text_of(row.causes[i]);
  }
  append_text(remark, out);
}

void Corrector::append_fields(const Waiting& row, std::size_t i, PieceBuffer& out) const {
  constexpr std::array words{alarms::Quality::good, alarms::Quality::uncertain, alarms::Quality::bad};
  for (const auto added : recipe_->output.columns) {
    out.add(layout_->dialect.delimiter);
    if (added == Added::quality) {
      out.add(alarms::name_of(words[static_cast<std::size_t>(row.verdict)]));
    } else if (added == Added::time) {
      if (row.time)
        out.add(rfc3339(WallTime{std::chrono::milliseconds{*row.time}}));
      else
        append_text(missing_, out);
    } else if (added == Added::remark) {
      append_remark(row, out);
    } else if (row.verdict == Verdict::bad) {
      append_text(missing_, out);
    } else {
      append_number(added, i, out);
    }
  }
}

void Corrector::add_header(const Row& row, LineKind kind, std::string& out) const {
  PieceBuffer pieces{out};
  pieces.add(row.bytes);
  pad(row.fields.size(), pieces);
  for (const auto added : recipe_->output.columns) {
    const auto& column = column_of(added);
    pieces.add(layout_->dialect.delimiter);
    if (kind == LineKind::header)
      append_text(recipe_->output.prefix + std::string{column.header}, pieces);
    else if (!layout_->dialect.blanks || !column.unit.empty())
      pieces.add(column.unit);
    else
      pieces.add('-');
  }
  pieces.add(row.line_end);
}

} // namespace oxherd::daemon::logfile
