#include "config/table_reader.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/core.h>

#include "config/nearest.hpp"

namespace oxherd::config {

bool is_name(std::string_view name) {
  if (name.empty() || name.size() > 63 || name.front() == '-' || name.back() == '-') return false;
  if (name.find("--") != name.npos) return false;
  return std::all_of(name.begin(), name.end(),
                     [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-'; });
}

std::string TableReader::path(std::string_view key) const {
  if (key.empty()) return path_;
  return path_.empty() ? std::string{key} : fmt::format("{}.{}", path_, key);
}

Position TableReader::place(std::string_view key) const {
  const Entry* entry = table_->find(key);
  if (entry == nullptr) return at_;
  return entry->value.table() != nullptr ? entry->at : entry->value.at;
}

void TableReader::error(std::string_view key, std::string message) {
  problems_->error(place(key), path(key), std::move(message));
}

void TableReader::warning(std::string_view key, std::string message) {
  problems_->warning(place(key), path(key), std::move(message));
}

const Node* TableReader::node(std::string_view key) {
  if (std::find(known_.begin(), known_.end(), key) == known_.end()) known_.emplace_back(key);
  const Entry* entry = table_->find(key);
  return entry != nullptr ? &entry->value : nullptr;
}

bool TableReader::has(std::string_view key) { return node(key) != nullptr; }

void TableReader::require(std::string_view key, std::string_view example) {
  if (!has(key)) error(key, fmt::format("missing; write for example {} = {}", key, example));
}

std::optional<std::string> TableReader::text(std::string_view key) {
  const Node* found = node(key);
  if (found == nullptr) return std::nullopt;
  const auto* text = std::get_if<std::string>(&found->value);
  if (text == nullptr) {
    error(key, fmt::format("{} is not a text; put it in quotes", shown(*found)));
    return std::nullopt;
  }
  const auto is_control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; };
  if (text->find_first_not_of(" \t") == text->npos) {
    error(key, "is empty");
    return std::nullopt;
  }
  if (std::any_of(text->begin(), text->end(), is_control)) {
    error(key, "contains a control character (a line break or the like)");
    return std::nullopt;
  }
  return *text;
}

std::optional<double> TableReader::quantity_in(const Node& node, std::string_view key, const QuantityRule& rule) {
  const auto refuse = [&](std::string message) {
    problems_->error(node.at, path(key), std::move(message));
    return std::nullopt;
  };
  const auto* text = std::get_if<std::string>(&node.value);
  if (text == nullptr) {
    const bool bare = std::holds_alternative<std::int64_t>(node.value) || std::holds_alternative<double>(node.value);
    return refuse(fmt::format("{} is {}; write a {} with its unit in quotes, such as \"{}\"", shown(node),
                              bare ? "a bare number" : "no quantity", name_of(rule.dimension),
                              example_of(rule.dimension)));
  }
  const auto si = compensation::parse_quantity(*text, rule.dimension);
  if (!si) return refuse(si.error().message);
  const bool inside = *si >= rule.low && *si <= rule.high; // false for NaN
  if (!inside) return refuse(fmt::format("\"{}\" is outside {}", *text, rule.span));
  return *si;
}

std::optional<double> TableReader::quantity(std::string_view key, const QuantityRule& rule) {
  const Node* found = node(key);
  return found == nullptr ? std::nullopt : quantity_in(*found, key, rule);
}

std::vector<double> TableReader::quantities(std::string_view key, const QuantityRule& rule) {
  const Node* found = node(key);
  if (found == nullptr) return {};
  const auto* items = std::get_if<Array>(&found->value);
  if (items == nullptr) {
    error(key,
          fmt::format("{} is not an array of quantities, such as [\"{}\"]", shown(*found), example_of(rule.dimension)));
    return {};
  }
  std::vector<double> values;
  for (const Node& item : *items)
    if (const auto si = quantity_in(item, key, rule)) values.push_back(*si);
  return values;
}

std::optional<std::chrono::milliseconds> TableReader::duration(std::string_view key, const QuantityRule& rule) {
  const auto seconds = quantity(key, rule);
  if (!seconds) return std::nullopt;
  return std::chrono::milliseconds{std::llround(*seconds * 1e3)};
}

std::optional<double> TableReader::number(std::string_view key, double low, double high) {
  const Node* found = node(key);
  if (found == nullptr) return std::nullopt;
  double value = std::numeric_limits<double>::quiet_NaN();
  if (const auto* whole = std::get_if<std::int64_t>(&found->value))
    value = static_cast<double>(*whole);
  else if (const auto* real = std::get_if<double>(&found->value))
    value = *real;
  else {
    error(key, fmt::format("{} is not a number; write it without quotes", shown(*found)));
    return std::nullopt;
  }
  if (!(value >= low && value <= high)) { // true for NaN
    error(key, fmt::format("{} is outside {} to {}", shown(*found), low, high));
    return std::nullopt;
  }
  return value;
}

std::optional<int> TableReader::integer(std::string_view key, IntegerRule rule) {
  const Node* found = node(key);
  if (found == nullptr) return std::nullopt;
  const auto* whole = std::get_if<std::int64_t>(&found->value);
  if (whole == nullptr) {
    error(key, fmt::format("{} is not a whole number; write one from {} to {}, without quotes", shown(*found), rule.low,
                           rule.high));
    return std::nullopt;
  }
  if (*whole < rule.low || *whole > rule.high) {
    error(key, fmt::format("{} is outside {} to {}", *whole, rule.low, rule.high));
    return std::nullopt;
  }
  return static_cast<int>(*whole);
}

std::optional<bool> TableReader::boolean(std::string_view key) {
  const Node* found = node(key);
  if (found == nullptr) return std::nullopt;
  if (const auto* flag = std::get_if<bool>(&found->value)) return *flag;
  error(key, fmt::format("{} is neither true nor false (written without quotes)", shown(*found)));
  return std::nullopt;
}

std::vector<double> TableReader::numbers(std::string_view key) {
  const Node* found = node(key);
  if (found == nullptr) return {};
  const auto* items = std::get_if<Array>(&found->value);
  if (items == nullptr) {
    error(key, fmt::format("{} is not an array of numbers, such as [1, 2]", shown(*found)));
    return {};
  }
  std::vector<double> values;
  for (const Node& item : *items) {
    if (const auto* whole = std::get_if<std::int64_t>(&item.value))
      values.push_back(static_cast<double>(*whole));
    else if (const auto* real = std::get_if<double>(&item.value); real != nullptr && std::isfinite(*real))
      values.push_back(*real);
    else
      problems_->error(item.at, path(key), fmt::format("{} is not a finite number", shown(item)));
  }
  return values;
}

std::vector<std::string> TableReader::texts(std::string_view key) {
  const Node* found = node(key);
  if (found == nullptr) return {};
  if (const auto* text = std::get_if<std::string>(&found->value)) return {*text};
  const auto* items = std::get_if<Array>(&found->value);
  if (items == nullptr) {
    error(key, fmt::format("{} is neither a text nor an array of texts", shown(*found)));
    return {};
  }
  std::vector<std::string> values;
  for (const Node& item : *items) {
    if (const auto* text = std::get_if<std::string>(&item.value))
      values.push_back(*text);
    else
      problems_->error(item.at, path(key), fmt::format("{} is not a text; put it in quotes", shown(item)));
  }
  return values;
}

std::optional<TableReader> TableReader::table(std::string_view key) {
  const Node* found = node(key);
  if (found == nullptr) return std::nullopt;
  if (const Table* inner = found->table()) return TableReader{*inner, table_->find(key)->at, path(key), *problems_};
  error(key, fmt::format("{} is not a table", shown(*found)));
  return std::nullopt;
}

std::vector<TableReader> TableReader::tables(std::string_view key) {
  const Node* found = node(key);
  if (found == nullptr) return {};
  const auto* items = std::get_if<Array>(&found->value);
  if (items == nullptr) {
    error(key, fmt::format("{} is not an array of tables; write [[{}]]", shown(*found), path(key)));
    return {};
  }
  std::vector<TableReader> readers;
  for (std::size_t i = 0; i < items->size(); ++i) {
    const Node& item = (*items)[i];
    const std::string item_path = fmt::format("{}[{}]", path(key), i);
    if (const Table* inner = item.table())
      readers.emplace_back(*inner, item.at, item_path, *problems_);
    else
      problems_->error(item.at, item_path, fmt::format("{} is not a table", shown(item)));
  }
  return readers;
}

std::optional<std::size_t> TableReader::word(std::string_view key, const std::vector<std::string>& words) {
  const Node* found = node(key);
  if (found == nullptr) return std::nullopt;
  const auto* text = std::get_if<std::string>(&found->value);
  const auto match = text == nullptr ? words.end() : std::find(words.begin(), words.end(), *text);
  if (match != words.end()) return static_cast<std::size_t>(match - words.begin());
  error(key, fmt::format("{} is not known; write {}", shown(*found),
                         text == nullptr ? listed(words) : listed_nearest_first(*text, words)));
  return std::nullopt;
}

void TableReader::each_named(std::string_view what, const std::function<void(const std::string&, TableReader)>& each) {
  for (const Entry& entry : table_->entries) {
    known_.push_back(entry.key);
    const std::string where = path(entry.key);
    if (!is_name(entry.key))
      problems_->error(entry.at, where,
                       fmt::format("\"{}\" cannot name a {}; use lower-case letters, digits and single dashes, at most "
                                   "63 characters",
                                   entry.key, what));
    if (const Table* inner = entry.value.table())
      each(entry.key, TableReader{*inner, entry.at, where, *problems_});
    else
      problems_->error(entry.at, where, fmt::format("{} is not a table; write [{}]", shown(entry.value), where));
  }
}

void TableReader::refuse(std::string_view key, std::string why) {
  if (table_->find(key) == nullptr) return;
  pass_over(key);
  error(key, std::move(why));
}

void TableReader::pass_over(std::string_view key) { settled_.emplace_back(key); }

void TableReader::finish() {
  for (const Entry& entry : table_->entries) {
    const auto in = [&entry](const auto& keys) { return std::find(keys.begin(), keys.end(), entry.key) != keys.end(); };
    if (in(known_) || in(settled_)) continue;
    const auto meant = nearest(entry.key, known_);
    problems_->error(entry.at, path(entry.key),
                     meant ? fmt::format("unknown key; did you mean \"{}\"?", *meant)
                           : fmt::format("unknown key; known here: {}", listed_nearest_first(entry.key, known_)));
  }
}

} // namespace oxherd::config
