#include "daemon/senml.hpp"

#include <chrono>
#include <cmath>
#include <iterator>
#include <utility>

#include <fmt/format.h>

#include "config/measurands.hpp"
#include "daemon/json_text.hpp"
#include "daemon/si_scale.hpp"

namespace oxherd::daemon {
namespace {

/// RFC 8428, 4.5.3: a time below 2^28 s counts from now. A machine whose clock was never set would thus send readings
/// from decades ahead; without a time the record means "now", which is true.
bool is_absolute(WallTime at) { return at.time_since_epoch() >= std::chrono::seconds{1 << 28}; }

} // namespace

bool SenmlPack::fits(const ReadingRecord& reading) const {
  return empty() || (is_absolute(base_) && is_absolute(reading.at) && reading.at >= last_);
}

void SenmlPack::add(const ReadingRecord& r) {
  last_ = r.at;
  relative_.clear();
  if (empty()) {
    base_ = r.at;
    text_ = fmt::format("[{{\"bn\":{}", json_string(base_name_));
    if (is_absolute(base_))
      fmt::format_to(std::back_inserter(text_), ",\"bt\":{}",
                     std::chrono::duration<double>(base_.time_since_epoch()).count());
    text_ += ','; // the first record goes on behind the base fields
  } else if (r.at != base_) {
    relative_ = fmt::format(",\"t\":{}", std::chrono::duration<double>(r.at - base_).count());
  }
  if (r.oxygen) {
    number("oxygen", "/", r.oxygen->dry.si());
    number("u_oxygen", "/", r.oxygen->u_dry);
    number("oxygen_wet", "/", r.oxygen->wet.si());
    number("po2", "Pa", r.oxygen->po2.si());
  }
  number("temperature", "Cel", in_celsius(r.temperature_K));
  number("humidity", "%RH", scaled(r.humidity, 100.0));
  number("pressure", "Pa", r.pressure_Pa);
  number("co2", "/", r.carbon_dioxide);
  number("raw", "V", r.raw_V);
  number("over_pressure", "Pa", r.over_pressure_Pa);
  for (const auto& [measurand, is] : r.contacts) { // "door": true is open
    begin(name_of(measurand));
    fmt::format_to(std::back_inserter(text_), ",\"vb\":{}}}", is);
  }
  begin("quality");
  fmt::format_to(std::back_inserter(text_), ",\"vs\":\"{}\"}}", name_of(alarms::quality_of(r.status)));
}

std::string SenmlPack::take() {
  text_ += ']';
  return std::exchange(text_, {});
}

void SenmlPack::begin(std::string_view name) {
  if (text_.back() != ',') text_ += ",{";
  fmt::format_to(std::back_inserter(text_), "\"n\":\"{}\"{}", name, relative_);
}

void SenmlPack::number(std::string_view name, std::string_view unit, std::optional<double> value) {
  if (!value || !std::isfinite(*value)) return; // a record without a value is not legal
  begin(name);
  fmt::format_to(std::back_inserter(text_), ",\"u\":\"{}\",\"v\":{}}}", unit, *value);
}

std::string senml_pack(const std::string& site, const ReadingRecord& reading) {
  SenmlPack pack{site + "/" + reading.room + "/" + reading.sensor + "/"};
  pack.add(reading);
  return pack.take();
}

} // namespace oxherd::daemon
