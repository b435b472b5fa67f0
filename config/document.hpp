#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "config/problems.hpp"

namespace oxherd::config {

/// A date, a time or both in the file. Without an offset from UTC it names no instant.
struct Moment {
  std::optional<std::chrono::sys_time<std::chrono::milliseconds>> utc;
  std::optional<std::chrono::sys_days> day; ///< of a date without time
};

struct Node;
struct Entry;
using Array = std::vector<Node>;
/// Keys and values in the order of the file.
struct Table {
  std::vector<Entry> entries;
  [[nodiscard]] const Entry* find(std::string_view key) const;
};

/// One value of the file and where it stands.
struct Node {
  Position at;
  std::variant<std::string, std::int64_t, double, bool, Moment, Array, Table> value;
  [[nodiscard]] const Table* table() const { return std::get_if<Table>(&value); }
};
struct Entry {
  std::string key;
  Position at; ///< of the key, in a table header of its last part
  Node value;
};

/// The value as a person wrote it, for messages: `"12 mV"`, `5`, `an array`.
[[nodiscard]] std::string shown(const Node& node);

/// Reads TOML 1.0 into plain values; refuses (with a problem) what could not be read safely: more than 4 MiB, more
/// than 64 dots in a line, tables nested deeper than 32. Empty when the text is not TOML; the parser stops at the
/// first such fault.
[[nodiscard]] std::optional<Table> read_document(std::string_view text, Problems& problems);

/// Where a person must look for this chain of keys: the deepest part of it that the file has.
[[nodiscard]] Position position_of(const Table& root, const std::vector<std::string_view>& keys);

/// The text of a file of at most 4 MiB; a problem (and nothing) for a directory, a device, an unreadable file.
[[nodiscard]] std::optional<std::string> read_text(const std::string& file, Problems& problems);

} // namespace oxherd::config
