#include "daemon/control_socket/calibrate_request.hpp"

#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/control_socket/person_name.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using nlohmann::json;
using Step = CalibrateRequest::Step;

constexpr std::pair<std::string_view, Step> steps[] = {
    {"begin", Step::begin}, {"look", Step::look},     {"another", Step::another}, {"take", Step::take},
    {"enter", Step::enter}, {"finish", Step::finish}, {"cancel", Step::cancel},   {"withdraw", Step::withdraw}};

/// Collects the first problem; what is read after it does not matter.
class StepReader {
public:
  explicit StepReader(const json& node) : node_{node} {}

  std::string text(const char* key) {
    const auto found = node_.find(key);
    if (found == node_.end()) return {};
    if (!found->is_string()) complain(key, "a text");
    return found->is_string() ? found->get<std::string>() : std::string{};
  }
  std::optional<WallTime> time(const char* key) {
    if (!node_.contains(key)) return std::nullopt;
    const auto read = parse_rfc3339(text(key));
    if (!read) complain(key, "an RFC 3339 time with its offset");
    return read;
  }
  std::optional<std::int64_t> whole(const char* key) {
    const auto found = node_.find(key);
    if (found == node_.end()) return std::nullopt;
    if (!found->is_number_integer()) complain(key, "a whole number");
    return found->is_number_integer() ? std::optional{found->get<std::int64_t>()} : std::nullopt;
  }
  bool flag(const char* key) {
    const auto found = node_.find(key);
    if (found == node_.end()) return false;
    if (!found->is_boolean()) complain(key, "true or false");
    return found->is_boolean() && found->get<bool>();
  }
  /// A value with its standard uncertainty, both SI: [0.0126, 0.00002].
  template <class Q> std::optional<Uncertain<Q>> pair(const char* key) {
    const auto found = node_.find(key);
    if (found == node_.end()) return std::nullopt;
    const bool fits = found->is_array() && found->size() == 2 && (*found)[0].is_number() && (*found)[1].is_number();
    if (!fits) {
      complain(key, "a value and its standard uncertainty in SI, such as [0.0126, 0.00002]");
      return std::nullopt;
    }
    return Uncertain<Q>{Q::from_si((*found)[0].get<double>()), (*found)[1].get<double>()};
  }
  template <class Choice, std::size_t n> std::optional<Choice> choice(const char* key, const Choice (&all)[n]) {
    if (!node_.contains(key)) return std::nullopt;
    const auto word = text(key);
    for (const auto one : all)
      if (name_of(one) == word) return one;
    complain(key, "one of the names that `oxherd calibrate --help` lists");
    return std::nullopt;
  }
  void complain(std::string_view key, std::string_view wanted) {
    if (problem.empty()) problem = fmt::format("calibrate: \"{}\" is {}", key, wanted);
  }
  std::string problem;

private:
  const json& node_;
};

ReferenceGas read_gas(StepReader& reader) {
  ReferenceGas gas;
  if (const auto kind = reader.choice("gas", {GasKind::fresh_air, GasKind::nitrogen, GasKind::span_gas}))
    gas.kind = *kind;
  if (gas.kind == GasKind::nitrogen) gas.oxygen = {DryFraction::from_si(0.0), 0.00005};
  if (const auto oxygen = reader.pair<DryFraction>("oxygen")) gas.oxygen = *oxygen;
  gas.cylinder = reader.text("cylinder");
  gas.certificate = reader.text("certificate");
  gas.expires = reader.time("expires");
  return gas;
}

} // namespace

tl::expected<CalibrateRequest, std::string> parse_calibrate(const json& request) {
  StepReader reader{request};
  CalibrateRequest out;
  const std::string step = reader.text("step");
  const auto known = std::find_if(std::begin(steps), std::end(steps), [&](const auto& s) { return s.first == step; });
  if (known == std::end(steps)) return tl::unexpected(fmt::format("calibrate: there is no step \"{}\"", step));
  out.step = known->second;
  out.room = reader.text("room");
  out.sensor = reader.text("sensor");
  out.author = reader.text("author");
  out.reason = reader.text("reason");
  if (const auto act =
          reader.choice("act", {CalibrationAct::adjustment, CalibrationAct::check, CalibrationAct::bump_test}))
    out.act = *act;
  out.gas = read_gas(reader);
  out.typed.temperature = reader.pair<Temperature>("temperature");
  out.typed.humidity = reader.pair<RelativeHumidity>("humidity");
  out.typed.pressure = reader.pair<Pressure>("pressure");
  out.signal = reader.pair<Signal>("signal");
  out.performed = reader.time("performed");
  out.number = reader.whole("number");
  out.dry_run = reader.flag("dry_run");
  if (out.step != Step::withdraw && (out.room.empty() || out.sensor.empty()))
    reader.complain("sensor", "missing: give \"room\" and \"sensor\"");
  if ((out.step == Step::begin || out.step == Step::withdraw) && !is_a_name(out.author))
    reader.complain("author", "missing or with control characters: a calibration needs the name of the person");
  if (!reader.problem.empty()) return tl::unexpected(reader.problem);
  return out;
}

} // namespace oxherd::daemon
