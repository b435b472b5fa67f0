// Random bytes as a zone file, and as the rule at its end: what is accepted has an offset at any time, spans that
// follow each other, and for each instant the local time that leads back to it.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <string_view>

#include "config/zone_rules.hpp"

namespace {

using namespace oxherd::config;

void require(bool promise) {
  if (!promise) std::abort();
}

/// A time in years 1 to 9999.
std::int64_t time_from(const std::uint8_t* data) {
  std::uint64_t bits = 0;
  std::memcpy(&bits, data, sizeof bits);
  constexpr std::int64_t first_s = -62'135'596'800;
  constexpr std::uint64_t span_s = 315'537'897'600;
  return first_s + static_cast<std::int64_t>(bits % span_s);
}

void check_span(const OffsetSpan& span, std::int64_t utc_s) {
  require(span.begin_s <= utc_s && utc_s < span.end_s);
  require(span.offset_s >= -zone_offset_s_max && span.offset_s <= zone_offset_s_max);
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 8) return 0;
  const std::int64_t utc_s = time_from(data);
  const std::string_view text{reinterpret_cast<const char*>(data + 8), size - 8};
  if (const auto rule = PosixZone::parse(text)) check_span(rule->at(utc_s), utc_s);
  const auto zone = ZoneRules::parse(text);
  if (!zone) return 0;
  const auto span = zone->at(utc_s);
  check_span(span, utc_s);
  const auto local = zone->instants_of(utc_s + span.offset_s);
  require(local.first.has_value());
  require(local.first->utc_s <= utc_s && (local.last ? local.last->utc_s >= utc_s : local.first->utc_s == utc_s));
  return 0;
}
