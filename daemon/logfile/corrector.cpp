#include "daemon/logfile/corrector.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "alarms/quality.hpp"
#include "compensation/barometry.hpp"
#include "daemon/logfile/number.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::logfile {

Corrector::Corrector(const Recipe& recipe, const Layout& layout, AmbientFollower* ambient, Summary& summary)
    : recipe_{&recipe}, layout_{&layout}, ambient_{ambient}, summary_{&summary},
      fields_{layout, recipe.format, recipe.time, recipe.sources}, cell_{recipe.cell, recipe.calibration},
      missing_{recipe.output.missing} {
  if (layout.dialect.blanks && missing_.empty()) missing_ = "-"; // nothing between blanks is no field
  if (recipe.pressure_is_sea_level && recipe.site) altitude_ = compensation::geopotential(recipe.site->elevation);
  for (const auto& source : recipe.sources)
    needs_time_ = needs_time_ || (source && source->from == Source::From::ambient);
  has_probe_ = recipe.source(Quantity::humidity_temperature).has_value();
  quotes_numbers_ = layout.dialect.decimal == layout.dialect.delimiter && layout.dialect.quote != 0;
}

void Corrector::note(Cause cause, Verdict verdict) {
  if (state_.cause_count < state_.causes.size()) state_.causes[state_.cause_count++] = cause;
  state_.verdict = std::max(state_.verdict, verdict);
}

bool Corrector::has_right_shape(const Row& row) {
  if (row.too_long)
    note(too_long, Verdict::bad);
  else if (row.open_quote)
    note(open_quote, Verdict::bad);
  else if (row.fields.size() != layout_->columns)
    note(row.fields.size() < layout_->columns ? fewer_fields : more_fields, Verdict::bad);
  return state_.cause_count == 0;
}

void Corrector::take_time(const Row& row) {
  if (!fields_.has_time()) return;
  const auto [time, trouble] = fields_.time(row);
  state_.time = time;
  if (trouble) note(*trouble, needs_time_ && !time ? Verdict::bad : Verdict::uncertain);
  if (!time) return;
  if (previous_ && *state_.time <= *previous_) summary_->not_increasing.add(row.line);
  previous_ = state_.time;
  summary_->taken_as_utc = fields_.took_utc();
  cell_.use_at(*state_.time);
}

tl::expected<bool, Failure> Corrector::input(const Row& row, Quantity quantity, const Source& source,
                                             Uncertain<double>& to) {
  to = {source.constant_si, source.u_si};
  if (source.from == Source::From::constant) return true;
  FieldValue value;
  if (source.from == Source::From::column) {
    value = fields_.value(row, quantity);
  } else {
    if (!state_.time) return false; // noted already
    const auto near = ambient_->value(quantity, *state_.time);
    if (!near) return tl::unexpected(near.error());
    value = *near;
  }
  to.value = value.si;
  if (value.ok) return true;
  if (!source.otherwise) {
    note(cause_of(quantity, value.trouble), Verdict::bad);
    return false;
  }
  note(cause_of(quantity, Trouble::assumed), Verdict::uncertain);
  to = {source.otherwise->si, source.otherwise->u_si};
  return true;
}

/// The pressure at the place, from one that a report has reduced to sea level. Its uncertainty is taken over: at a
/// height it is a little smaller.
Uncertain<Pressure> Corrector::station(Uncertain<double> given) const {
  if (!altitude_) return {pascals(given.value), given.u_si};
  const auto p = compensation::station_pressure(SeaLevelPressure::from_si(given.value), *altitude_);
  return {p.value_or(pascals(std::nan(""))), given.u_si}; // NaN is refused by the reading, with its reason
}

tl::expected<void, Failure> Corrector::correct(const Row& row) {
  std::array<Uncertain<double>, quantity_count> got;
  bool whole = true;
  for (const auto quantity : all_quantities) {
    const auto& source = recipe_->source(quantity);
    if (!source) continue;
    const auto has = input(row, quantity, *source, got[static_cast<std::size_t>(quantity)]);
    if (!has) return tl::unexpected(has.error());
    whole = whole && *has;
  }
  if (!whole || state_.verdict == Verdict::bad) return {};
  const auto of = [&](Quantity quantity) { return got[static_cast<std::size_t>(quantity)]; };
  const auto t = of(Quantity::temperature);
  const auto h = of(Quantity::humidity);
  auto& gas = state_.gas;
  gas.temperature = {kelvins(t.value), t.u_si};
  gas.humidity = {RelativeHumidity::from_si(h.value), h.u_si};
  gas.humidity_temperature.reset();
  if (has_probe_) {
    const auto probe = of(Quantity::humidity_temperature);
    gas.humidity_temperature = Uncertain<Temperature>{kelvins(probe.value), probe.u_si};
  }
  gas.pressure = station(of(Quantity::pressure));
  read(of(Quantity::signal));
  return {};
}

void Corrector::read(Uncertain<double> signal) {
  const Uncertain<Signal> volts{Signal::from_si(signal.value), signal.u_si};
  state_.reading = cell_.read(volts, state_.gas);
  if (!state_.reading) {
    note(no_reading, Verdict::bad);
    if (summary_->no_reading_example.empty()) summary_->no_reading_example = state_.reading.error().what;
    return;
  }
  if (cell_.is_near_zero(volts.value)) note(near_zero, Verdict::uncertain);
}

void Corrector::count(const Row& row) {
  ++summary_->rows;
  for (std::size_t i = 0; i < state_.cause_count; ++i) summary_->causes.at(state_.causes[i]).add(row.line);
  if (state_.verdict == Verdict::bad) {
    ++summary_->bad;
    return;
  }
  ++(state_.verdict == Verdict::good ? summary_->good : summary_->uncertain);
  const double dry = state_.reading->dry.si();
  if (!summary_->least || dry < summary_->least->value) summary_->least = {dry, row.line};
  if (!summary_->greatest || dry > summary_->greatest->value) summary_->greatest = {dry, row.line};
  summary_->u_greatest = std::max(summary_->u_greatest, state_.reading->u_dry);
}

tl::expected<void, Failure> Corrector::add(const Row& row, std::string& out) {
  out += row.bytes;
  if (row.unfinished) return {};
  if (is_no_row(row, layout_->dialect)) {
    ++summary_->other_lines;
    out += row.line_end;
    return {};
  }
  state_.verdict = Verdict::good;
  state_.cause_count = 0;
  state_.time.reset();
  if (has_right_shape(row)) {
    take_time(row);
    if (const auto done = correct(row); !done) return tl::unexpected(done.error());
  }
  count(row);
  pad(row, out);
  append_fields(out);
  out += row.line_end;
  return {};
}

/// A row with fewer fields than others gets empty ones, so that the added columns stand under their names.
void Corrector::pad(const Row& row, std::string& out) const {
  if (layout_->dialect.blanks || row.fields.empty()) return;
  for (std::size_t i = row.fields.size(); i < layout_->width; ++i) out += layout_->dialect.delimiter;
}

void Corrector::append_text(std::string_view text, std::string& out) const {
  if (text.empty()) return;
  const auto& dialect = layout_->dialect;
  const bool special = text.find(dialect.delimiter) != text.npos || text.find(dialect.quote) != text.npos;
  if (!special || dialect.quote == 0) {
    out += text;
    return;
  }
  out += dialect.quote;
  for (const char c : text) {
    out += c;
    if (c == dialect.quote) out += c;
  }
  out += dialect.quote;
}

void Corrector::append_number(Added added, std::string& out) const {
  const auto& reading = *state_.reading;
  double value = 0.0;
  switch (added) {
  case Added::oxygen: value = reading.dry.si() * 100.0; break;
  case Added::u_oxygen: value = reading.u_dry * 100.0; break;
  case Added::oxygen_wet: value = reading.wet.si() * 100.0; break;
  case Added::u_oxygen_wet: value = reading.u_wet * 100.0; break;
  case Added::po2: value = reading.po2.si() / 1e3; break;
  case Added::u_po2: value = reading.u_po2_Pa / 1e3; break;
  case Added::sea_level_equivalent: value = reading.sea_level_equivalent * 100.0; break;
  case Added::uncorrected: value = reading.uncorrected * 100.0; break;
  case Added::pressure: value = state_.gas.pressure.value.si() / 1e3; break;
  case Added::vapour_pressure: value = reading.vapour.si() / 1e3; break;
  case Added::time:
  case Added::quality:
  case Added::remark: return; // no numbers
  }
  const auto& dialect = layout_->dialect;
  if (quotes_numbers_) out += dialect.quote;
  append_fixed(out, value, recipe_->output.decimals, dialect.decimal);
  if (quotes_numbers_) out += dialect.quote;
}

void Corrector::append_fields(std::string& out) const {
  constexpr std::array words{alarms::Quality::good, alarms::Quality::uncertain, alarms::Quality::bad};
  for (const auto added : recipe_->output.columns) {
    out += layout_->dialect.delimiter;
    if (added == Added::quality) {
      out += alarms::name_of(words.at(static_cast<std::size_t>(state_.verdict)));
    } else if (added == Added::time) {
      if (state_.time)
        out += rfc3339(WallTime{std::chrono::milliseconds{*state_.time}});
      else
        append_text(missing_, out);
    } else if (added == Added::remark) {
      std::string remark; // empty for a good row: nothing is allocated then
      for (std::size_t i = 0; i < state_.cause_count; ++i) {
        if (i > 0) remark += " and ";
        remark += text_of(state_.causes[i]);
      }
      if (remark.empty() && layout_->dialect.blanks) remark = "-";
      append_text(remark, out);
    } else if (state_.verdict == Verdict::bad) {
      append_text(missing_, out);
    } else {
      append_number(added, out);
    }
  }
}

void Corrector::add_header(const Row& row, LineKind kind, std::string& out) const {
  out += row.bytes;
  pad(row, out);
  for (const auto added : recipe_->output.columns) {
    const auto& column = column_of(added);
    out += layout_->dialect.delimiter;
    if (kind == LineKind::header)
      append_text(recipe_->output.prefix + std::string{column.header}, out);
    else if (!layout_->dialect.blanks || !column.unit.empty())
      out += column.unit;
    else
      out += '-';
  }
  out += row.line_end;
}

} // namespace oxherd::daemon::logfile
