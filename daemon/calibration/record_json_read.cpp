#include "daemon/calibration/record_json.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <set>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

/// Reads one JSON object key by key and keeps the first problem with its place. After a problem, values are defaults.
class RecordFields {
public:
  using json = nlohmann::json;

  RecordFields(const json& node, std::string path, std::string& problem)
      : node_{node}, path_{std::move(path)}, problem_{problem} {
    if (!node_.is_object()) complain("", "is not an object");
  }

  double number(const char* key) { return numeric(find(key), key); }
  bool flag(const char* key) {
    const json* value = find(key);
    if (value == nullptr) return false;
    if (!value->is_boolean()) complain(key, "is neither true nor false");
    return value->is_boolean() && value->get<bool>();
  }
  std::int64_t integer(const char* key) {
    const json* value = find(key);
    if (value == nullptr) return 0;
    constexpr auto most = static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max());
    const bool fits =
        value->is_number_integer() && (!value->is_number_unsigned() || value->get<std::uint64_t>() <= most);
    if (!fits) complain(key, "is not a whole number");
    return fits ? value->get<std::int64_t>() : 0;
  }
  std::string text(const char* key) {
    const json* value = find(key);
    if (value == nullptr) return {};
    if (!value->is_string()) complain(key, "is not text");
    return value->is_string() ? value->get<std::string>() : std::string{};
  }
  WallTime time(const char* key) {
    const auto words = text(key);
    const auto read = parse_rfc3339(words);
    // A time that an offset carries out of the years 0 to 9999 could not be written again.
    const bool good = read && parse_rfc3339(rfc3339(*read)) == read;
    if (!good) complain(key, "is not a time such as 2026-03-01T08:15:30.250Z");
    return good ? *read : WallTime{};
  }
  /// Null gives an empty value.
  template <class T, class Read> std::optional<T> maybe(const char* key, Read read) {
    const json* value = find(key);
    if (value == nullptr || value->is_null()) return {};
    seen_.erase(key); // read() looks it up itself
    return read(key);
  }
  RecordFields object(const char* key) {
    const json* value = find(key);
    static const json empty = json::object();
    return {value == nullptr ? empty : *value, place(key), problem_};
  }
  template <class Each> void each(const char* key, Each each) {
    const json* value = find(key);
    if (value == nullptr) return;
    if (!value->is_array()) return complain(key, "is not a list");
    for (std::size_t i = 0; i < value->size(); ++i) each((*value)[i], fmt::format("{}[{}]", place(key), i));
  }
  /// One of several values by its name.
  template <class T, std::size_t n> T one_of(const char* key, const std::array<T, n>& values) {
    const auto word = text(key);
    for (const T value : values)
      if (name_of(value) == word) return value;
    complain(key, "is none of the known words");
    return values[0];
  }
  void complain(std::string_view key, std::string_view what) {
    if (problem_.empty()) problem_ = fmt::format("{} {}", key.empty() && path_.empty() ? "the text" : place(key), what);
  }
  /// To be called last: refuses what nothing has asked for.
  void finish() {
    if (!node_.is_object()) return;
    for (const auto& [key, value] : node_.items())
      if (!seen_.contains(key)) return complain(key, "is not known in this version");
  }
  [[nodiscard]] std::string& problem() { return problem_; }

private:
  [[nodiscard]] std::string place(std::string_view key) const {
    if (path_.empty() || key.empty()) return path_ + std::string{key};
    return fmt::format("{}.{}", path_, key);
  }
  const json* find(const char* key) {
    seen_.insert(key);
    if (!node_.is_object()) return nullptr;
    const auto found = node_.find(key);
    if (found != node_.end()) return &*found;
    complain(key, "is missing");
    return nullptr;
  }
  double numeric(const json* value, const char* key) {
    if (value == nullptr) return 0.0;
    if (!value->is_number()) complain(key, "is not a number");
    return value->is_number() ? value->get<double>() : 0.0;
  }

  const json& node_;
  std::string path_;
  std::string& problem_;
  std::set<std::string, std::less<>> seen_;
};

template <class Q> Uncertain<Q> uncertain_from(RecordFields in) {
  Uncertain<Q> quantity;
  quantity.value = Q::from_si(in.number("value"));
  quantity.u_si = in.number("u");
  in.finish();
  return quantity;
}

template <class Q> std::optional<Uncertain<Q>> maybe_uncertain(RecordFields& in, const char* key) {
  return in.maybe<Uncertain<Q>>(key, [&](const char* k) { return uncertain_from<Q>(in.object(k)); });
}

compensation::GasConditions conditions_from(RecordFields in) {
  compensation::GasConditions gas;
  gas.temperature = uncertain_from<Temperature>(in.object("temperature_K"));
  gas.humidity = uncertain_from<RelativeHumidity>(in.object("humidity"));
  gas.humidity_temperature = maybe_uncertain<Temperature>(in, "humidity_temperature_K");
  gas.pressure = uncertain_from<Pressure>(in.object("pressure_Pa"));
  in.finish();
  return gas;
}

compensation::CalibrationPoint values_from(RecordFields in) {
  compensation::CalibrationPoint point;
  point.signal = uncertain_from<Signal>(in.object("signal_V"));
  point.oxygen = uncertain_from<DryFraction>(in.object("oxygen"));
  point.gas = conditions_from(in.object("gas"));
  point.reference_air = in.maybe<compensation::GasConditions>(
      "reference_air", [&](const char* key) { return conditions_from(in.object(key)); });
  in.finish();
  return point;
}

ReferenceGas gas_from(RecordFields in) {
  ReferenceGas gas;
  gas.kind = in.one_of("kind", std::array{GasKind::fresh_air, GasKind::nitrogen, GasKind::span_gas});
  gas.oxygen = uncertain_from<DryFraction>(in.object("oxygen"));
  gas.cylinder = in.text("cylinder");
  gas.certificate = in.text("certificate");
  gas.expires = in.maybe<WallTime>("expires", [&](const char* key) { return in.time(key); });
  in.finish();
  return gas;
}

StabilityEvidence stability_from(RecordFields in) {
  StabilityEvidence evidence;
  evidence.seconds = in.number("seconds");
  const auto samples = in.integer("samples");
  if (samples < 0 || samples > std::numeric_limits<int>::max()) in.complain("samples", "is not a count");
  evidence.samples = static_cast<int>(samples);
  evidence.slope_per_minute = in.number("slope_per_minute");
  evidence.u_slope_per_minute = in.number("u_slope_per_minute");
  evidence.scatter = in.number("scatter");
  evidence.temperature_slope_K_per_minute = in.number("temperature_slope_K_per_minute");
  evidence.stable = in.flag("stable");
  in.finish();
  return evidence;
}

TakenPoint point_from(RecordFields in) {
  TakenPoint point;
  point.gas = gas_from(in.object("gas"));
  point.values = values_from(in.object("values"));
  point.stability = stability_from(in.object("stability"));
  point.temperature_from = in.text("temperature_from");
  point.humidity_from = in.text("humidity_from");
  point.pressure_from = in.text("pressure_from");
  point.as_found = maybe_uncertain<DryFraction>(in, "as_found");
  point.as_left = maybe_uncertain<DryFraction>(in, "as_left");
  in.finish();
  return point;
}

compensation::Calibration calibration_from(RecordFields in) {
  compensation::Calibration calibration;
  calibration.span = values_from(in.object("span"));
  calibration.zero = uncertain_from<Signal>(in.object("zero_V"));
  calibration.low =
      in.maybe<compensation::CalibrationPoint>("low", [&](const char* key) { return values_from(in.object(key)); });
  in.finish();
  return calibration;
}

compensation::CellCharacteristic characteristic_from(RecordFields in) {
  // The units of every cell model: the record keeps a view, so the text must outlive it.
  constexpr std::array<std::string_view, 4> units{"", "V", "V/Pa", "V/(mol/m3)"};
  compensation::CellCharacteristic cell;
  cell.sensitivity = in.number("sensitivity");
  cell.u_sensitivity = in.number("u_sensitivity");
  const auto unit = in.text("sensitivity_unit");
  const auto known = std::find(units.begin(), units.end(), unit);
  if (known == units.end())
    in.complain("sensitivity_unit", "is not the unit of any cell model");
  else
    cell.sensitivity_unit = *known;
  cell.zero = uncertain_from<Signal>(in.object("zero_V"));
  in.finish();
  return cell;
}

CalibrationRecord record_from(RecordFields in) {
  CalibrationRecord record;
  if (in.integer("version") != record_json_version) {
    in.complain("version", fmt::format("is not {}: read it with a newer program", record_json_version));
    return record;
  }
  record.number = in.integer("number");
  record.act = in.one_of("act", std::array{CalibrationAct::adjustment, CalibrationAct::check, CalibrationAct::bump_test,
                                           CalibrationAct::withdrawal});
  record.performed = in.time("performed");
  record.recorded = in.time("recorded");
  record.room = in.text("room");
  record.sensor = in.text("sensor");
  record.serial = in.text("serial");
  record.model = in.text("model");
  record.author = in.text("author");
  record.reason = in.text("reason");
  in.each("points", [&](const auto& node, std::string path) {
    record.points.push_back(point_from({node, std::move(path), in.problem()}));
  });
  record.calibration = in.maybe<compensation::Calibration>(
      "calibration", [&](const char* key) { return calibration_from(in.object(key)); });
  record.characteristic = in.maybe<compensation::CellCharacteristic>(
      "characteristic", [&](const char* key) { return characteristic_from(in.object(key)); });
  record.supersedes = in.maybe<std::int64_t>("supersedes", [&](const char* key) { return in.integer(key); });
  in.each("warnings", [&](const auto& node, const std::string&) {
    if (!node.is_string()) return in.complain("warnings", "is not a list of texts");
    record.warnings.push_back(node.template get<std::string>());
  });
  in.finish();
  return record;
}

} // namespace

tl::expected<CalibrationRecord, std::string> record_from_json(std::string_view text) {
  if (text.size() > record_json_bytes_max)
    return tl::unexpected(fmt::format("{} bytes are more than a calibration record has", text.size()));
  try {
    const auto root = nlohmann::json::parse(text);
    std::string problem;
    auto record = record_from({root, "", problem});
    if (!problem.empty()) return tl::unexpected("calibration record: " + problem);
    return record;
  } catch (const nlohmann::json::parse_error& error) {
    return tl::unexpected(fmt::format("calibration record: not JSON at byte {}", error.byte));
  } catch (const nlohmann::json::exception&) { // a number beyond any double
    return tl::unexpected(std::string{"calibration record: a number is too large"});
  }
}

} // namespace oxherd::daemon
