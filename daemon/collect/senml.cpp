#include "daemon/collect/senml.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/json_depth.hpp"

namespace oxherd::daemon::collect {
namespace {

using nlohmann::json;

/// A pack is an array of flat objects; whoever nests deeper sends something else.
constexpr int depth_max = 8;
constexpr int version_max = 10;                  // RFC 8428, 4.4
constexpr double absolute_from_s = 268435456.0;  // 2^28: below, a time counts from now (4.5.3)
constexpr double time_beyond_all_use_s = 4.0e11; // so that microseconds fit in 64 bits

struct Bases {
  std::string name, unit;
  double time_s = 0.0;
  std::optional<double> value, sum;
};

/// One record as it stands, before its bases are added.
struct Fields {
  std::string name;
  std::optional<std::string> unit;
  std::optional<double> time_s, value, sum;
  std::optional<std::variant<std::monostate, double, bool, std::string>> other; ///< vs, vb, vd
  int values = 0;
  bool only_bases = true;
};

/// RFC 8428, 4.5.1.
bool is_legal(std::string_view name) {
  const auto letter = [](char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9'); };
  return !name.empty() && letter(name.front()) && std::all_of(name.begin(), name.end(), [&](char c) {
    return letter(c) || std::string_view{"-:./_"}.find(c) != std::string_view::npos;
  });
}

bool take_number(const json& value, std::optional<double>& into) {
  if (!value.is_number()) return false;
  into = value.get<double>();
  return std::isfinite(*into);
}

bool take_text(const json& value, std::string& into) {
  if (!value.is_string()) return false;
  into = value.get<std::string>();
  return into.find('\0') == std::string::npos;
}

bool take_version(const json& value) { return value.is_number_integer() && value <= version_max && value >= 1; }

/// False: the field is of another type than its label says, or must be understood and is not.
bool take_base(const std::string& label, const json& value, Bases& bases) {
  std::optional<double> number;
  if (label == "bn") return take_text(value, bases.name);
  if (label == "bu") return take_text(value, bases.unit);
  if (label == "bver") return take_version(value);
  if (label == "bt") {
    if (!take_number(value, number)) return false;
    bases.time_s = *number;
    return true;
  }
  if (label == "bv") return take_number(value, bases.value);
  if (label == "bs") return take_number(value, bases.sum);
  return !label.ends_with('_');
}

bool take_field(const std::string& label, const json& value, Fields& fields) {
  std::optional<double> update_time;
  std::string text;
  if (label == "n") return take_text(value, fields.name);
  if (label == "u") return take_text(value, fields.unit.emplace());
  if (label == "t") return take_number(value, fields.time_s);
  if (label == "ut") return take_number(value, update_time);
  if (label == "s") return take_number(value, fields.sum);
  if (label != "v" && label != "vs" && label != "vb" && label != "vd") return !label.ends_with('_');
  ++fields.values;
  if (label == "v") return take_number(value, fields.value);
  if (label == "vb") {
    if (value.is_boolean()) fields.other = value.get<bool>();
    return value.is_boolean();
  }
  if (!take_text(value, text)) return false;
  fields.other = std::move(text);
  return true;
}

tl::expected<SenmlRecord, std::string> resolved(Fields fields, const Bases& bases, SampleTime now) {
  SenmlRecord record;
  record.name = bases.name + fields.name;
  if (!is_legal(record.name))
    return tl::unexpected(std::string{"its name is empty or has a character that RFC 8428 does not allow"});
  record.unit = fields.unit.value_or(bases.unit);
  const double time_s = bases.time_s + fields.time_s.value_or(0.0);
  if (std::abs(time_s) > time_beyond_all_use_s) return tl::unexpected(std::string{"its time is beyond all use"});
  const std::chrono::microseconds time{std::llround(time_s * 1e6)};
  record.time = time_s < absolute_from_s ? now + time : SampleTime{time};
  if (fields.other)
    record.value = std::move(*fields.other);
  else if (fields.value || bases.value)
    record.value = fields.value.value_or(0.0) + bases.value.value_or(0.0);
  if (fields.sum || bases.sum) record.sum = fields.sum.value_or(0.0) + bases.sum.value_or(0.0);
  const auto* number = std::get_if<double>(&record.value);
  if ((number != nullptr && !std::isfinite(*number)) || (record.sum && !std::isfinite(*record.sum)))
    return tl::unexpected(std::string{"its value is beyond all numbers"});
  if (fields.values > 1) return tl::unexpected(std::string{"it has more than one value"});
  if (record.value.index() == 0 && !record.sum) return tl::unexpected(std::string{"it has no value"});
  return record;
}

} // namespace

tl::expected<std::vector<SenmlRecord>, std::string> resolve_senml(std::string_view text, SampleTime now) {
  if (json_depth(text) > depth_max) return tl::unexpected(std::string{"it is nested too deep for a SenML pack"});
  const json pack = json::parse(text, nullptr, false);
  if (!pack.is_array()) return tl::unexpected(std::string{"it is no JSON array, so no SenML pack"});
  std::vector<SenmlRecord> records;
  records.reserve(pack.size());
  Bases bases;
  std::size_t number = 0;
  for (const auto& one : pack) {
    ++number;
    if (!one.is_object()) return tl::unexpected(fmt::format("record {} is no JSON object", number));
    Fields fields;
    for (const auto& [label, value] : one.items()) {
      const bool of_base = label.starts_with('b');
      if (!of_base) fields.only_bases = false;
      if (!(of_base ? take_base(label, value, bases) : take_field(label, value, fields)))
        return tl::unexpected(fmt::format("record {}: its field \"{}\" cannot be understood", number, label));
    }
    if (fields.only_bases && !bases.value && !bases.sum) continue;
    auto record = resolved(std::move(fields), bases, now);
    if (!record) return tl::unexpected(fmt::format("record {}: {}", number, record.error()));
    records.push_back(std::move(*record));
  }
  return records;
}

} // namespace oxherd::daemon::collect
