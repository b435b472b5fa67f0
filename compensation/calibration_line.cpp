#include "compensation/calibration_line.hpp"

#include <cmath>

#include <fmt/format.h>

#include "compensation/cells/catalogue.hpp"
#include "compensation/checks.hpp"

namespace oxherd::compensation {

namespace {

[[nodiscard]] tl::expected<void, ReadingError> check_parts(const Cell& cell, const cells::Law& law) {
  const bool is_nernst = cell.model == CellModel::nernst;
  if (is_nernst && !cell.nernst)
    return tl::unexpected(
        ReadingError{"a nernst cell needs its furnace temperature and the conditions of its reference air"});
  if (!is_nernst && cell.nernst)
    return tl::unexpected(ReadingError{
        fmt::format("a {} cell has no furnace and no reference air; these belong to a nernst cell", law.name)});
  if (is_nernst && !cell.response.coefficients.empty())
    return tl::unexpected(
        ReadingError{"a nernst cell takes no temperature response: its furnace sets the temperature"});
  return {};
}

[[nodiscard]] tl::expected<LinePoint, ReadingError> resolve_point(const Cell& cell, const CalibrationPoint& point,
                                                                  const cells::Law& law, Span oxygen_span,
                                                                  std::string_view where) {
  ReadingError problem;
  if (!accepted(point.signal, signal_span, where, shown_signal, problem) ||
      !accepted(point.oxygen, oxygen_span, where, shown_fraction, problem))
    return tl::unexpected(std::move(problem));
  const GasConditions* air = nullptr;
  if (cell.nernst) air = point.reference_air ? &*point.reference_air : &cell.nernst->reference_air;
  const auto at = resolve_at_cell(cell, point.gas, air, where);
  if (!at) return tl::unexpected(at.error());
  return LinePoint{point.signal.value.si(), *at, law.stimulus(point.oxygen.value.si(), *at)};
}

[[nodiscard]] tl::expected<void, ReadingError> check_correlation(const ProbeCorrelation& probes) {
  constexpr Span covered{0.0, 1.0};
  for (const double r : {probes.temperature, probes.humidity, probes.pressure})
    if (!covered.covers(r))
      return tl::unexpected(ReadingError{
          fmt::format("calibration: the correlation of its probes with those of the reading is {:.6g}; 0 to 1 is "
                      "accepted",
                      r)});
  return {};
}

/// The slope through two points, or why there is none.
[[nodiscard]] tl::expected<double, ReadingError> slope_between(const CalibrationLine& line, std::string_view anchor) {
  const double volts = line.span.signal_V - line.anchor_V;
  const double stimuli = line.span.stimulus.value - line.anchor_stimulus;
  const double slope = stimuli / volts;
  if (std::isfinite(slope) && slope != 0.0 && std::isfinite(1.0 / slope)) return slope;
  return tl::unexpected(ReadingError{fmt::format(
      "the calibration has no span: its signal is {:.6g} mV and that of the {} {:.6g} mV; give signals (and gases) "
      "that differ",
      line.span.signal_V * 1e3, anchor, line.anchor_V * 1e3)});
}

} // namespace

tl::expected<CalibrationLine, ReadingError> line_of(const Cell& cell, const Calibration& calibration) {
  const cells::Law& law = cells::law_of(cell.model);
  if (const auto parts = check_parts(cell, law); !parts) return tl::unexpected(parts.error());
  if (const auto probes = check_correlation(calibration.probes); !probes) return tl::unexpected(probes.error());
  auto span = resolve_point(cell, calibration.span, law, span_oxygen, "calibration");
  if (!span) return tl::unexpected(std::move(span.error()));
  CalibrationLine line{.law = &law, .span = *span, .low = {}};
  if (calibration.low) {
    auto low = resolve_point(cell, *calibration.low, law, law.uses_zero ? span_low_oxygen : span_oxygen, "low point");
    if (!low) return tl::unexpected(std::move(low.error()));
    line.low = *low;
    line.anchor_V = low->signal_V;
    line.anchor_stimulus = low->stimulus.value;
  } else if (law.uses_zero) {
    ReadingError problem;
    if (!accepted(calibration.zero, signal_span, "zero", shown_signal, problem))
      return tl::unexpected(std::move(problem));
    line.anchor_V = calibration.zero.value.si();
  } else {
    line.anchor_V = span->signal_V;
    line.anchor_stimulus = span->stimulus.value;
    line.stimulus_per_V = 1.0;
    return line;
  }
  const auto slope = slope_between(line, line.low ? "low point" : "zero");
  if (!slope) return tl::unexpected(slope.error());
  line.stimulus_per_V = *slope;
  return line;
}

} // namespace oxherd::compensation
