#include "daemon/logfile/row.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstring>

namespace oxherd::daemon::logfile {
namespace {

bool is_blank(char c) { return c == ' ' || c == '\t'; }

/// Sixteen bytes that are compared in one step.
using Bytes = char __attribute__((vector_size(16)));

std::uint32_t offset(const char* from, const char* to) { return static_cast<std::uint32_t>(to - from); }

/// Sets the bytes and the line end of a row of which `length` bytes stand before the line feed.
std::size_t finish(std::string_view text, std::size_t length, bool line_feed, Row& row) {
  const bool carriage_return = line_feed && length > 0 && text[length - 1] == '\r';
  const std::size_t content = length - (carriage_return ? 1 : 0);
  row.bytes = text.substr(0, content);
  row.line_end = text.substr(content, length - content + (line_feed ? 1 : 0));
  // A carriage return belongs to the line end, not to the last field.
  if (!row.fields.empty()) {
    FieldSpan& field = row.fields[row.fields.size() - 1];
    field.end = std::min(field.end, static_cast<std::uint32_t>(content));
    field.begin = std::min(field.begin, field.end);
  }
  return length + (line_feed ? 1 : 0);
}

} // namespace

std::string_view name_of_delimiter(const Dialect& dialect) {
  if (dialect.blanks) return "blanks";
  switch (dialect.delimiter) {
  case '\t': return "tab";
  case ';': return ";";
  case '|': return "|";
  default: return ",";
  }
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
  return text;
}

std::string_view content_of(std::string_view field, const Dialect& dialect, std::string& scratch) {
  const auto text = trimmed(field);
  const char quote = dialect.quote;
  if (quote == 0 || text.size() < 2 || text.front() != quote || text.back() != quote) return text;
  const auto inner = text.substr(1, text.size() - 2);
  if (inner.find(quote) == inner.npos) return trimmed(inner);
  scratch.clear();
  for (std::size_t i = 0; i < inner.size(); ++i) {
    scratch += inner[i];
    if (inner[i] == quote && i + 1 < inner.size() && inner[i + 1] == quote) ++i;
  }
  return trimmed(scratch);
}

RowSplitter::RowSplitter(const Dialect& dialect) : dialect_{dialect} {
  stops_[static_cast<unsigned char>(dialect.delimiter)] = true;
  stops_[static_cast<unsigned char>('\n')] = true;
}

std::size_t RowSplitter::split(std::string_view text, bool last, Row& row) const {
  row.lines = 1;
  row.open_quote = row.too_long = row.unfinished = false;
  row.fields.clear();
  if (dialect_.blanks) {
    const std::size_t used = split_line(text, last, row);
    row.open_quote = false;
    if (used > 0) split_at_blanks(row);
    return used;
  }
  const char* const begin = text.data();
  const char* const end = begin + text.size();
  const char* at = begin;
  const char* field = at; // where the field at hand begins
  const auto is_quoted = [&] { return field != end && *field == dialect_.quote && dialect_.quote != 0; };
  if (is_quoted()) return split_quoted(text, last, row);
  for (; static_cast<std::size_t>(end - at) >= sizeof(Bytes); at += sizeof(Bytes)) {
    Bytes bytes;
    std::memcpy(&bytes, at, sizeof bytes);
    const auto stops = std::bit_cast<std::array<std::uint64_t, 2>>((bytes == dialect_.delimiter) | (bytes == '\n'));
    for (std::size_t half = 0; half < stops.size(); ++half)
      for (std::uint64_t hits = stops[half] & 0x8080808080808080U; hits != 0; hits &= hits - 1) {
        const char* const stop = at + half * sizeof hits + static_cast<std::size_t>(std::countr_zero(hits)) / 8U;
        row.fields.add({offset(begin, field), offset(begin, stop)});
        if (*stop == '\n') return finish(text, static_cast<std::size_t>(stop - begin), true, row);
        field = stop + 1;
        if (is_quoted()) return split_quoted(text, last, row);
      }
  }
  while (true) {
    while (at != end && !stops_[static_cast<unsigned char>(*at)]) ++at;
    row.fields.add({offset(begin, field), offset(begin, at)});
    if (at == end) return last && !text.empty() ? finish(text, text.size(), false, row) : 0;
    if (*at == '\n') return finish(text, static_cast<std::size_t>(at - begin), true, row);
    field = ++at;
    if (is_quoted()) return split_quoted(text, last, row);
  }
}

/// The rest of a row, from the first quoted field on; the fields before it are there already.
std::size_t RowSplitter::split_quoted(std::string_view text, bool last, Row& row) const {
  const char* const begin = text.data();
  const char* const end = begin + text.size();
  const char* at = row.fields.empty() ? begin : begin + row.fields[row.fields.size() - 1].end + 1;
  std::uint64_t breaks = 0;
  const auto give_up = [&] { return split_line(text, last, row); };
  while (true) {
    const char* const field = at;
    if (at != end && *at == dialect_.quote) {
      while (true) { // `at` stands on a quote that opens the field or on the first one of a doubled pair
        const char* const inside = at + 1;
        const auto* close =
            static_cast<const char*>(std::memchr(inside, dialect_.quote, static_cast<std::size_t>(end - inside)));
        if (close == nullptr) return last ? give_up() : 0;
        breaks += static_cast<std::uint64_t>(std::count(inside, close, '\n'));
        at = close + 1;
        if (at == end && !last) return 0;
        if (at == end || *at != dialect_.quote) break;
      }
      while (at != end && is_blank(*at) && *at != dialect_.delimiter) ++at;
      const bool line_ends = at != end && *at == '\r' && at + 1 != end && at[1] == '\n';
      if (at + 1 == end && *at == '\r' && !last) return 0;
      if (line_ends) ++at;
      if (at != end && !stops_[static_cast<unsigned char>(*at)]) return give_up();
    }
    while (at != end && !stops_[static_cast<unsigned char>(*at)]) ++at;
    row.fields.add({offset(begin, field), offset(begin, at)});
    if (at == end && !last) return 0;
    if (at == end || *at == '\n') break;
    ++at;
  }
  row.lines = breaks + 1;
  return finish(text, static_cast<std::size_t>(at - begin), at != end, row);
}

std::size_t RowSplitter::split_line(std::string_view text, bool last, Row& row) const {
  const std::size_t feed = text.find('\n');
  const bool line_feed = feed != text.npos;
  if (!line_feed && (!last || text.empty())) return 0;
  const std::size_t length = line_feed ? feed : text.size();
  row.fields.clear();
  row.open_quote = true;
  std::size_t begin = 0;
  for (std::size_t i = 0; i <= length; ++i) {
    if (i < length && (dialect_.blanks || text[i] != dialect_.delimiter)) continue;
    row.fields.add({static_cast<std::uint32_t>(begin), static_cast<std::uint32_t>(i)});
    begin = i + 1;
  }
  row.lines = 1;
  return finish(text, length, line_feed, row);
}

void RowSplitter::split_at_blanks(Row& row) const {
  row.fields.clear();
  const auto text = row.bytes;
  for (std::size_t i = 0; i < text.size();) {
    if (is_blank(text[i])) {
      ++i;
      continue;
    }
    const std::size_t begin = i;
    const bool quoted = dialect_.quote != 0 && text[i] == dialect_.quote;
    const std::size_t close = quoted ? text.find(dialect_.quote, i + 1) : text.npos;
    if (quoted && close == text.npos) row.open_quote = true;
    i = close != text.npos ? close + 1 : i;
    while (i < text.size() && !is_blank(text[i])) ++i;
    row.fields.add({static_cast<std::uint32_t>(begin), static_cast<std::uint32_t>(i)});
  }
}

} // namespace oxherd::daemon::logfile
