#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>

#include "compensation/batch.hpp"
#include "compensation/checks.hpp"
#include "compensation/line_reading.hpp"
#include "compensation/outputs.hpp"
#include "compensation/response.hpp"

namespace oxherd::compensation {

namespace {

SurroundingsOf<Lanes> in_every_lane(const Surroundings& at) {
  const auto every = spread_over<Lanes>;
  SurroundingsOf<Lanes> wide{.t_K = every(at.t_K),
                             .p_Pa = every(at.p_Pa),
                             .vapour = {.saturation_Pa = every(at.vapour.saturation_Pa),
                                        .e_Pa = every(at.vapour.e_Pa),
                                        .d_humidity = every(at.vapour.d_humidity),
                                        .d_probe = every(at.vapour.d_probe),
                                        .d_pressure = every(at.vapour.d_pressure)},
                             .response = every(at.response),
                             .response_slope = every(at.response_slope)};
  wide.furnace_K = at.furnace_K;
  wide.reference_Pa = at.reference_Pa;
  wide.reference_total_Pa = at.reference_total_Pa;
  wide.reference_dry_Pa = at.reference_dry_Pa;
  wide.u_reference_air_Pa = at.u_reference_air_Pa;
  return wide;
}

/// Inputs of as many rows as there are lanes.
struct Inputs {
  Lanes signal_V, u_signal_V;
  Lanes t_K, humidity, probe_K, p_Pa;
  GasUncertainty<Lanes> u;
};

struct Results {
  OutputsOf<Lanes> out;
  Lanes uncorrected;
  Lanes vapour_Pa;
  Lanes response;
};

/// The steps of PreparedCell::read without its checks: what lies outside computes nonsense that is not used.
class Reader {
public:
  Reader(const PreparedCell& cell, const SignalErrors& errors)
      : cell_{cell}, errors_{errors}, at_{in_every_lane(cell.span_gas_now())},
        at_span_{in_every_lane(cell.line().span.at)} {
    at_.response = spread_over<Lanes>(1.0);
    at_.response_slope = Lanes{};
    if (cell.line().law->gain_of_lanes != nullptr) span_gain_ = cell.line().law->gain_of_lanes(at_span_);
  }

  [[nodiscard]] Results read(const Inputs& in) {
    const CalibrationLine& line = cell_.line();
    at_.t_K = in.t_K;
    at_.p_Pa = in.p_Pa;
    at_.vapour = vapour_of(in.humidity, in.probe_K, in.p_Pa);
    if (const auto& response = cell_.cell().response; !response.coefficients.empty()) {
      const SlopedOf<Lanes> g = response_at(response, in.t_K);
      at_.response = g.value;
      at_.response_slope = g.slope;
    }
    const Lanes stimulus = line.stimulus_of(in.signal_V);
    SampleOf<Lanes> sample{.at = &at_,
                           .u = in.u,
                           .stimulus = {},
                           .signal_V = in.signal_V,
                           .u_signal_V = in.u_signal_V,
                           .errors = &errors_};
    Lanes dry{};
    Lanes uncorrected{};
    if (line.law->gain_of_lanes != nullptr) {
      const auto gain = line.law->gain_of_lanes(at_);
      dry = cells::linear_fraction(stimulus, gain);
      sample.stimulus = cells::linear_stimulus(dry, gain);
      uncorrected = cells::linear_fraction(stimulus, span_gain_);
    } else {
      dry = line.law->fraction_of_lanes(stimulus, at_);
      sample.stimulus = line.law->stimulus_of_lanes(dry, at_);
      uncorrected = line.law->fraction_of_lanes(stimulus, at_span_);
    }
    const auto spread = reading_contributions(line, cell_.cell(), cell_.calibration(), sample);
    return {.out = outputs_of(dry, spread, own_spread(in.u, at_), at_),
            .uncorrected = uncorrected,
            .vapour_Pa = at_.vapour.e_Pa,
            .response = at_.response};
  }

private:
  const PreparedCell& cell_;
  const SignalErrors& errors_;
  SurroundingsOf<Lanes> at_;
  SurroundingsOf<Lanes> at_span_;
  cells::Gain<Lanes> span_gain_;
};

bool in_span(const UncertainColumn& column, std::size_t i, Span span) {
  return span.covers(column.value[i]) && is_uncertainty(column.u[i]);
}

/// The checks of resolve() and read_on_line().
bool inputs_are_accepted(const UncertainColumns& rows, std::size_t i) {
  return in_span(rows.signal_V, i, signal_span) && in_span(rows.temperature_K, i, saturation_span) &&
         in_span(rows.humidity, i, humidity_span) && in_span(rows.pressure_Pa, i, pressure_span) &&
         (rows.probe_K.value.empty() || in_span(rows.probe_K, i, saturation_span));
}

bool is_reading(const Results& found, std::size_t lane, double p_Pa, bool uses_zero) {
  const auto& out = found.out;
  const double every_u = out.u_dry[lane] + out.u_wet[lane] + out.u_po2_Pa[lane] + out.u_molar[lane];
  return found.vapour_Pa[lane] < p_Pa && is_response(found.response[lane]) && std::isfinite(out.dry[lane]) &&
         (uses_zero || out.dry[lane] > 0.0) && std::isfinite(found.uncorrected[lane]) && std::isfinite(every_u);
}

/// Rows from `first` on; lanes beyond the last row repeat it.
Inputs load(const UncertainColumns& rows, std::size_t first, std::size_t count) {
  const bool own_probe = !rows.probe_K.value.empty();
  const auto lanes = [&](std::span<const double> from) {
    Lanes to{};
    for (std::size_t i = 0; i < lane_count; ++i) to[i] = from[std::min(first + i, count - 1)];
    return to;
  };
  const Lanes t_K = lanes(rows.temperature_K.value);
  const Lanes u_t_K = lanes(rows.temperature_K.u);
  return {.signal_V = lanes(rows.signal_V.value),
          .u_signal_V = lanes(rows.signal_V.u),
          .t_K = t_K,
          .humidity = lanes(rows.humidity.value),
          .probe_K = own_probe ? lanes(rows.probe_K.value) : t_K,
          .p_Pa = lanes(rows.pressure_Pa.value),
          .u = {.temperature_K = u_t_K,
                .humidity = lanes(rows.humidity.u),
                .probe_K = own_probe ? lanes(rows.probe_K.u) : u_t_K,
                .pressure_Pa = lanes(rows.pressure_Pa.u),
                .own_probe = own_probe}};
}

void store(const Results& found, std::size_t lane, bool valid, const ReadingColumns& to, std::size_t i) {
  const auto put = [&](Lanes from, std::span<double> column) { column[i] = valid ? from[lane] : 0.0; };
  put(found.out.dry, to.dry);
  put(found.out.u_dry, to.u_dry);
  put(found.out.wet, to.wet);
  put(found.out.u_wet, to.u_wet);
  put(found.out.po2_Pa, to.po2_Pa);
  put(found.out.u_po2_Pa, to.u_po2_Pa);
  put(found.uncorrected, to.uncorrected);
  put(found.vapour_Pa, to.vapour_Pa);
  to.valid[i] = valid ? 1 : 0;
}

} // namespace

std::size_t read_batch(const PreparedCell& cell, const UncertainColumns& rows, const SignalErrors& errors,
                       const ReadingColumns& to) {
  const std::size_t count = rows.signal_V.value.size();
  for (const auto* in : {&rows.signal_V, &rows.temperature_K, &rows.humidity, &rows.pressure_Pa}) {
    assert(in->value.size() == count);
    assert(in->u.size() == count);
  }
  assert(rows.probe_K.value.empty() || rows.probe_K.value.size() == count);
  assert(rows.probe_K.u.size() == rows.probe_K.value.size());
  for (const auto& out : {to.dry, to.u_dry, to.wet, to.u_wet, to.po2_Pa, to.u_po2_Pa, to.uncorrected, to.vapour_Pa})
    assert(out.size() == count);
  assert(to.valid.size() == count);
  const bool errors_are_fine = check_errors(errors).has_value();
  Reader reader{cell, errors};
  std::size_t good = 0;
  for (std::size_t first = 0; first < count; first += lane_count) {
    const Results found = reader.read(load(rows, first, count));
    for (std::size_t lane = 0; lane < lane_count && first + lane < count; ++lane) {
      const std::size_t i = first + lane;
      const bool valid = errors_are_fine && inputs_are_accepted(rows, i) &&
                         is_reading(found, lane, rows.pressure_Pa.value[i], cell.line().law->uses_zero);
      store(found, lane, valid, to, i);
      good += valid ? 1 : 0;
    }
  }
  return good;
}

} // namespace oxherd::compensation
