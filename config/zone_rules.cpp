#include "config/zone_rules.hpp"

#include <algorithm>
#include <array>

namespace oxherd::config {
namespace {

constexpr std::size_t header_bytes = 44;
constexpr std::size_t type_bytes = 6; ///< of a local time type record
constexpr std::int64_t transition_s_max = std::int64_t{1} << 60;

/// A whole number, the most significant byte first. The bytes must be there.
std::uint64_t big_endian(std::string_view bytes) {
  std::uint64_t sum = 0;
  for (const char byte : bytes) sum = sum << 8U | static_cast<unsigned char>(byte);
  return sum;
}

/// The counts of a TZif header, and what they say of the length of its data block.
struct BlockHeader {
  char version = 0;
  std::size_t ut = 0, standard = 0, leaps = 0, times = 0, types = 0, characters = 0;
  [[nodiscard]] std::size_t data_bytes(std::size_t time_bytes) const {
    return times * (time_bytes + 1) + types * type_bytes + characters + leaps * (time_bytes + 4) + standard + ut;
  }
};

std::optional<BlockHeader> read_header(std::string_view bytes) {
  if (bytes.size() < header_bytes || !bytes.starts_with("TZif")) return std::nullopt;
  std::array<std::size_t, 6> counts{};
  for (std::size_t i = 0; i < counts.size(); ++i) counts[i] = big_endian(bytes.substr(20 + 4 * i, 4));
  return BlockHeader{bytes[4], counts[0], counts[1], counts[2], counts[3], counts[4], counts[5]};
}

tl::unexpected<std::string> refused(std::string_view why) { return tl::unexpected(std::string{why}); }

} // namespace

tl::expected<ZoneRules, std::string> ZoneRules::parse(std::string_view bytes) {
  constexpr std::string_view damaged = "is no time zone file, or is damaged";
  const auto old = read_header(bytes);
  if (!old) return refused(damaged);
  if (old->version < '2') return refused("is a time zone file of version 1, which ends in 2038");
  const std::size_t skipped = header_bytes + old->data_bytes(4);
  const auto header = read_header(bytes.substr(std::min(skipped, bytes.size())));
  if (!header || header->types == 0) return refused(damaged);
  if (header->leaps > 0) return refused("counts leap seconds, which the clocks of loggers and people do not");
  auto rest = bytes.substr(skipped + header_bytes);
  if (header->data_bytes(8) > rest.size()) return refused(damaged);
  const auto times = rest.substr(0, header->times * 8);
  const auto indices = rest.substr(times.size(), header->times);
  const auto types = rest.substr(times.size() + indices.size(), header->types * type_bytes);
  rest.remove_prefix(header->data_bytes(8));

  std::vector<std::int64_t> offsets_s;
  for (std::size_t i = 0; i < header->types; ++i) {
    const auto raw = static_cast<std::uint32_t>(big_endian(types.substr(i * type_bytes, 4)));
    offsets_s.push_back(static_cast<std::int32_t>(raw));
    if (std::abs(offsets_s.back()) > zone_offset_s_max) return refused(damaged);
  }
  ZoneRules zone;
  zone.first_offset_s_ = offsets_s.front(); // before any transition, type 0 holds
  for (std::size_t i = 0; i < header->times; ++i) {
    const auto time_s = static_cast<std::int64_t>(big_endian(times.substr(i * 8, 8)));
    const std::size_t type = static_cast<unsigned char>(indices[i]);
    const bool later = zone.times_s_.empty() || time_s > zone.times_s_.back();
    if (!later || time_s < -transition_s_max || time_s > transition_s_max || type >= offsets_s.size())
      return refused(damaged);
    zone.times_s_.push_back(time_s);
    zone.offsets_s_.push_back(offsets_s[type]);
  }
  if (rest.size() < 2 || rest.front() != '\n' || rest.find('\n', 1) == rest.npos) return refused(damaged);
  const auto footer = rest.substr(1, rest.find('\n', 1) - 1);
  if (footer.empty()) return zone; // the last transition holds for ever
  const auto rule = PosixZone::parse(footer);
  if (!rule) return tl::unexpected(rule.error());
  zone.rule_ = *rule;
  return zone;
}

OffsetSpan ZoneRules::at(std::int64_t utc_s) const {
  const auto next = std::upper_bound(times_s_.begin(), times_s_.end(), utc_s);
  if (next == times_s_.end()) {
    OffsetSpan span;
    if (rule_)
      span = rule_->at(utc_s);
    else
      span.offset_s = offsets_s_.empty() ? first_offset_s_ : offsets_s_.back();
    if (!times_s_.empty()) span.begin_s = std::max(span.begin_s, times_s_.back());
    return span;
  }
  if (next == times_s_.begin()) return {.end_s = *next, .offset_s = first_offset_s_};
  return {*(next - 1), *next, offsets_s_[static_cast<std::size_t>(next - times_s_.begin() - 1)]};
}

LocalInstants ZoneRules::instants_of(std::int64_t local_s) const {
  LocalInstants found;
  // Every span that a clock with the largest offset could show this time in.
  const std::int64_t end_s = local_s + zone_offset_s_max;
  for (std::int64_t t = local_s - zone_offset_s_max; t <= end_s;) {
    const auto span = at(t);
    const ZonedInstant instant{local_s - span.offset_s, span.offset_s};
    if (instant.utc_s >= span.begin_s && instant.utc_s < span.end_s) (found.first ? found.last : found.first) = instant;
    t = span.end_s;
  }
  return found;
}

} // namespace oxherd::config
