#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <set>
#include <string>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "compensation/calibration.hpp"
#include "daemon/time_text.hpp"

// For the readers of calibrations and of their records only; heavy to include.
namespace oxherd::daemon {

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

/// One point of a calibration, and the calibration itself, as calibration_json.hpp writes them.
[[nodiscard]] compensation::CalibrationPoint values_from(RecordFields in);
[[nodiscard]] compensation::Calibration calibration_from(RecordFields in);

} // namespace oxherd::daemon
