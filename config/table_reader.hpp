#pragma once

#include <array>
#include <chrono>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compensation/units.hpp"
#include "config/document.hpp"

namespace oxherd::config {

/// What a quantity in the file must be: its dimension and the span that makes sense, in SI.
struct QuantityRule {
  compensation::Dimension dimension = compensation::Dimension::number;
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  std::string_view span; ///< the span in a person's words: "50 kPa to 110 kPa"
};

/// What a whole number in the file must be.
struct IntegerRule {
  std::int64_t low = 0;
  std::int64_t high = 0;
};

/// A word of the file and what it stands for.
template <class T> struct Choice {
  std::string_view word;
  T value;
};

/// Reads one table of the file key by key. It remembers which keys were asked for: finish() then reports the others as
/// unknown. Each accessor reports what is wrong and returns nothing then; an absent key returns nothing silently.
class TableReader {
public:
  TableReader(const Table& table, Position at, std::string path, Problems& problems)
      : table_{&table}, at_{at}, path_{std::move(path)}, problems_{&problems} {}

  /// Reports the key as missing, with the line to write, unless it is there.
  void require(std::string_view key, std::string_view example);
  [[nodiscard]] bool has(std::string_view key);
  [[nodiscard]] const Node* node(std::string_view key);

  std::optional<std::string> text(std::string_view key);
  std::optional<double> quantity(std::string_view key, const QuantityRule& rule);
  std::optional<std::chrono::milliseconds> duration(std::string_view key, const QuantityRule& rule);
  std::optional<double> number(std::string_view key, double low, double high);
  std::optional<int> integer(std::string_view key, IntegerRule rule);
  std::optional<bool> boolean(std::string_view key);
  std::vector<double> numbers(std::string_view key);
  std::vector<double> quantities(std::string_view key, const QuantityRule& rule); ///< of an array; sound ones only
  /// One text or an array of texts.
  std::vector<std::string> texts(std::string_view key);
  std::optional<TableReader> table(std::string_view key);
  /// The tables of an array of tables.
  std::vector<TableReader> tables(std::string_view key);
  /// One of the words, found by its index; the nearest is suggested for any other.
  std::optional<std::size_t> word(std::string_view key, const std::vector<std::string>& words);
  template <class T, std::size_t N>
  std::optional<T> choice(std::string_view key, const std::array<Choice<T>, N>& choices) {
    std::vector<std::string> words;
    for (const auto& one : choices) words.emplace_back(one.word);
    const auto index = word(key, words);
    return index ? std::optional<T>{choices[*index].value} : std::nullopt;
  }
  /// Runs `each` for every table in this one, whose keys are names a person chose (rooms, sensors); names that could
  /// not be a level of an MQTT topic are reported.
  void each_named(std::string_view what, const std::function<void(const std::string&, TableReader)>& each);

  /// Reports the key, where it is given, with why it does not belong here; it is never named as one that does.
  void refuse(std::string_view key, std::string why);
  /// Passes over the key silently, where it is given.
  void pass_over(std::string_view key);
  /// Reports every key that nobody asked for.
  void finish();

  void error(std::string_view key, std::string message);   ///< at the key's value, else at the table
  void warning(std::string_view key, std::string message); ///< likewise
  [[nodiscard]] std::string path(std::string_view key) const;
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] Position at() const { return at_; }
  [[nodiscard]] Problems& problems() { return *problems_; }

private:
  std::optional<double> quantity_in(const Node& node, std::string_view key, const QuantityRule& rule);
  [[nodiscard]] Position place(std::string_view key) const;

  const Table* table_;
  Position at_;
  std::string path_;
  Problems* problems_;
  std::vector<std::string> known_;
  std::vector<std::string> settled_; ///< keys that are dealt with and are not among those known here
};

/// Whether a name can stand in topics, paths and commands: lower-case words of a-z and 0-9 joined by single dashes, at
/// most 63 characters.
[[nodiscard]] bool is_name(std::string_view name);

} // namespace oxherd::config
