#pragma once

#include <cmath>
#include <optional>
#include <string>

#include "compensation/quantity.hpp"
#include "daemon/json_text.hpp"

// For the writers of calibrations and of their records only.
namespace oxherd::daemon {

/// JsonObject::number would write -0 as an integer, which reads back without its sign.
inline std::string exact(double value) { return value == 0.0 && std::signbit(value) ? "-0.0" : json_number(value); }

template <class Q> std::string uncertain_json(const Uncertain<Q>& quantity) {
  return JsonObject{}.json("value", exact(quantity.value.si())).json("u", exact(quantity.u_si)).str();
}

/// JSON of something that may be absent.
template <class T, class Write> std::string or_null(const std::optional<T>& value, Write write) {
  return value ? write(*value) : std::string{"null"};
}
template <class Q> std::string or_null(const std::optional<Uncertain<Q>>& value) {
  return or_null(value, [](const auto& v) { return uncertain_json(v); });
}

} // namespace oxherd::daemon
