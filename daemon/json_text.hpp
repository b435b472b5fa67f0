#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace oxherd::daemon {

/// A JSON string with its quotes (RFC 8259, section 7). What is not UTF-8 becomes U+FFFD, one for each broken sequence,
/// so that one bad byte in a comment cannot make a whole answer unreadable.
[[nodiscard]] std::string json_string(std::string_view text);

/// The shortest decimal that reads back as the same double; `null` for NaN and the infinities, which JSON has not.
[[nodiscard]] std::string json_number(double value);

/// Elements that are JSON already, in brackets.
[[nodiscard]] std::string json_array(const std::vector<std::string>& elements);

/// What `element` makes of each item, in brackets; without all of them beside the whole, which may be many megabytes.
template <class Items, class Element> [[nodiscard]] std::string json_array_of(const Items& items, Element&& element) {
  std::string array = "[";
  for (const auto& item : items) {
    if (array.size() > 1) array += ',';
    array += element(item);
  }
  return array += ']';
}

/// Writes one JSON object key by key, in the order of the calls. A value that is missing becomes `null`.
class JsonObject {
public:
  JsonObject& text(std::string_view key, std::string_view value);
  JsonObject& number(std::string_view key, std::optional<double> value);
  JsonObject& integer(std::string_view key, std::int64_t value);
  JsonObject& flag(std::string_view key, std::optional<bool> value);
  JsonObject& json(std::string_view key, std::string_view already_json); ///< taken as it is
  [[nodiscard]] std::string str() const;

private:
  std::string members_;
};

} // namespace oxherd::daemon
