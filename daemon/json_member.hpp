#pragma once

#include <string>

#include <nlohmann/json.hpp>

namespace oxherd::daemon {

/// The text under a key of an object; empty where there is none, or something else.
[[nodiscard]] inline std::string text_in(const nlohmann::json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : std::string{};
}

} // namespace oxherd::daemon
