#include "config/document.hpp"

#include <algorithm>
#include <cerrno>
#include <cstddef>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <system_error>
#include <utility>

#include <fmt/core.h>
#include <toml++/toml.h>

namespace oxherd::config {
namespace {

constexpr std::size_t document_bytes_max = 4 * 1024 * 1024; // ten thousand sensors take half of it
constexpr int line_dots_max = 64; // a dotted key of tens of thousands of parts overflows the parser's stack
constexpr int table_depth_max = 32;

Position document_position(const toml::source_position& p) {
  return {static_cast<int>(p.line), static_cast<int>(p.column)};
}

Moment to_moment(const toml::date_time& t) {
  if (!t.offset) return {};
  using namespace std::chrono;
  const year_month_day date{year{static_cast<int>(t.date.year)}, month{t.date.month}, day{t.date.day}};
  if (!date.ok()) return {};
  const auto since_midnight = hours{t.time.hour} + minutes{t.time.minute} + seconds{t.time.second} +
                              floor<milliseconds>(nanoseconds{t.time.nanosecond});
  return {sys_days{date} + since_midnight - minutes{t.offset->minutes}, {}};
}

Moment to_day(const toml::date& d) {
  using namespace std::chrono;
  const year_month_day date{year{static_cast<int>(d.year)}, month{d.month}, day{d.day}};
  return date.ok() ? Moment{{}, sys_days{date}} : Moment{};
}

class Converter {
public:
  explicit Converter(Problems& problems) : problems_{problems} {}

  Table table(const toml::table& from, int depth) {
    Table to;
    to.entries.reserve(from.size());
    for (auto&& [key, node] : from) {
      const Position at = document_position(key.source().begin);
      to.entries.push_back({std::string{key.str()}, at, value(node, at, depth)});
    }
    std::stable_sort(to.entries.begin(), to.entries.end(), [](const Entry& a, const Entry& b) { return a.at < b.at; });
    return to;
  }

private:
  Node value(const toml::node& node, Position key_at, int depth) {
    Position at = document_position(node.source().begin);
    if (at.line == 0) at = key_at; // a table that only its children mention
    if (depth >= table_depth_max) {
      if (!too_deep_) problems_.error(at, "", fmt::format("nested deeper than {} tables", table_depth_max));
      too_deep_ = true;
      return {at, false};
    }
    if (const auto* v = node.as_string()) return {at, v->get()};
    if (const auto* v = node.as_integer()) return {at, v->get()};
    if (const auto* v = node.as_floating_point()) return {at, v->get()};
    if (const auto* v = node.as_boolean()) return {at, v->get()};
    if (const auto* v = node.as_date_time()) return {at, to_moment(v->get())};
    if (const auto* v = node.as_array()) {
      Array items;
      for (const auto& item : *v) items.push_back(value(item, at, depth + 1));
      return {at, std::move(items)};
    }
    if (const auto* v = node.as_table()) return {at, table(*v, depth + 1)};
    if (const auto* v = node.as_date()) return {at, to_day(v->get())};
    return {at, Moment{}}; // a time alone
  }

  Problems& problems_;
  bool too_deep_ = false;
};

/// In quotes, and cut at a character's end: a page pasted by mistake must not become the message.
std::string quoted_short(std::string_view text) {
  constexpr std::size_t shown_bytes = 80;
  std::size_t end = std::min(text.size(), shown_bytes);
  while (end < text.size() && end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return fmt::format("\"{}{}\"", text.substr(0, end), end < text.size() ? "..." : "");
}

/// The first line with more dots than any sensible key has; 0 when there is none. A comment of its own line is
/// exempt, but not when it holds a quote: it could be the end of a text of several lines.
int line_with_too_many_dots(std::string_view text) {
  int line = 1;
  for (std::size_t begin = 0; begin <= text.size(); ++line) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::string_view one = text.substr(begin, end - begin);
    const auto first = one.find_first_not_of(" \t");
    const bool comment = first != one.npos && one[first] == '#' && one.find_first_of("\"'") == one.npos;
    if (!comment && std::count(one.begin(), one.end(), '.') > line_dots_max) return line;
    begin = end + 1;
  }
  return 0;
}

} // namespace

const Entry* Table::find(std::string_view key) const {
  const auto found = std::find_if(entries.begin(), entries.end(), [key](const Entry& e) { return e.key == key; });
  return found == entries.end() ? nullptr : &*found;
}

std::string shown(const Node& node) {
  struct {
    std::string operator()(const std::string& v) const { return quoted_short(v); }
    std::string operator()(std::int64_t v) const { return fmt::format("{}", v); }
    std::string operator()(double v) const {
      const std::string text = fmt::format("{}", v);
      const bool looks_whole = text.find_first_not_of("-0123456789") == text.npos;
      return looks_whole ? text + ".0" : text; // as it was written: 11.0 is not 11 here
    }
    std::string operator()(bool v) const { return v ? "true" : "false"; }
    std::string operator()(const Moment&) const { return "a date or time"; }
    std::string operator()(const Array&) const { return "an array"; }
    std::string operator()(const Table&) const { return "a table"; }
  } const words;
  return std::visit(words, node.value);
}

std::optional<Table> read_document(std::string_view text, Problems& problems) {
  if (text.size() > document_bytes_max) {
    problems.error({}, "", "larger than 4 MiB; that is no configuration");
    return std::nullopt;
  }
  if (const int line = line_with_too_many_dots(text); line > 0) {
    problems.error({line, 1}, "", fmt::format("more than {} dots in one line", line_dots_max));
    return std::nullopt;
  }
  try {
    // A byte order mark, as some editors write it, is skipped by the parser.
    const toml::table parsed = toml::parse(text, std::string_view{});
    return Converter{problems}.table(parsed, 0);
  } catch (const toml::parse_error& error) {
    problems.error(document_position(error.source().begin), "",
                   fmt::format("this is not TOML: {}", error.description()));
    return std::nullopt;
  }
}

Position position_of(const Table& root, const std::vector<std::string_view>& keys) {
  Position at;
  const Table* table = &root;
  for (const auto key : keys) {
    const Entry* entry = table != nullptr ? table->find(key) : nullptr;
    if (entry == nullptr) break;
    table = entry->value.table();
    at = table != nullptr ? entry->at : entry->value.at;
  }
  return at;
}

std::optional<std::string> read_text(const std::string& file, Problems& problems) {
  namespace fs = std::filesystem;
  const auto refuse = [&](std::string why) {
    problems.error({}, "", std::move(why));
    return std::nullopt;
  };
  std::error_code error;
  const fs::file_status status = fs::status(file, error);
  if (status.type() == fs::file_type::not_found) return refuse("there is no such file");
  if (error) return refuse(fmt::format("cannot be read: {}", error.message()));
  if (status.type() == fs::file_type::directory) return refuse("is a directory; name the file itself");
  if (status.type() != fs::file_type::regular) return refuse("is not a regular file");
  std::ifstream in{file, std::ios::binary};
  if (!in) return refuse(fmt::format("cannot be read: {}", std::strerror(errno)));
  std::string text(document_bytes_max + 1, '\0');
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (in.bad()) return refuse("cannot be read: the disk reported an error");
  text.resize(static_cast<std::size_t>(in.gcount()));
  const bool blank = text.find_first_not_of(" \t\r\n") == text.npos;
  if (blank) return refuse("is empty; it may have been written only half");
  const bool whole = text.size() <= document_bytes_max; // else refused by read_document
  if (whole && text.back() != '\n')
    problems.warning({}, "", "the last line has no line break; the file may have been written only half");
  return text;
}

} // namespace oxherd::config
