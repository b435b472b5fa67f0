#include "alarms/texts.hpp"

#include <fmt/format.h>

namespace oxherd::alarms {

namespace {

/// Fills `{field}` by its name, so that a text below reads as a person reads it.
std::string filled(fmt::string_view text, const MessageFields& f) {
  return fmt::vformat(text, fmt::make_format_args(fmt::arg("room", f.room), fmt::arg("value", f.value),
                                                  fmt::arg("lower", f.lower), fmt::arg("limit", f.limit),
                                                  fmt::arg("time", f.since), fmt::arg("emergency", f.emergency),
                                                  fmt::arg("reason", f.reason), fmt::arg("unit", f.unit),
                                                  fmt::arg("alarm", f.alarm), fmt::arg("site", f.site),
                                                  fmt::arg("by", f.by), fmt::arg("until", f.until)));
}

} // namespace

std::string_view caution_long() {
  return "Oxherd supplements certified gas monitors, testing of the air before entry, and your confined-space rules. "
         "It "
         "never replaces them. It is not a certified safety device and carries no safety integrity level. No reading "
         "from Oxherd, and no silence, means that a room is safe to enter.";
}

std::string_view caution_short() {
  return "Supplementary monitor. Do not use it to decide that a room is safe. Test the air with a certified monitor "
         "and "
         "follow the entry procedure.";
}

std::string_view caution_log() {
  return "caution: supplementary monitoring only; neither a reading nor an absence of alarms shows that a room is safe";
}

std::string low_oxygen_text(const MessageFields& f) {
  return filled(
      "LOW OXYGEN {room}: {value} % (could be {lower} %), limit {limit} %, since {time}. Leave now. Stay out. "
      "Do not go in to help someone who has collapsed: call {emergency} and rescuers with breathing "
      "apparatus. This message supplements the room's certified monitor.",
      f);
}

std::string high_oxygen_text(const MessageFields& f) {
  return filled("HIGH OXYGEN {room}: {value} % (could be {lower} %), limit {limit} %, since {time}. Things catch fire "
                "easily and burn fiercely. Leave now. Stay out. Keep flames and sparks away, also from clothes that "
                "were in the room. This message supplements the room's certified monitor.",
                f);
}

std::string high_carbon_dioxide_text(const MessageFields& f) {
  return filled("HIGH CO2 {room}: {value} ppm, limit {limit}. CO2 harms people while oxygen still looks normal. Leave "
                "now. Stay out.",
                f);
}

std::string not_monitored_text(const MessageFields& f) {
  return filled(
      "{room} IS NOT MONITORED since {time}: {reason}. Treat its air as unknown. Do not enter without testing "
      "with a certified monitor.",
      f);
}

std::string returned_text(const MessageFields& f) {
  return filled(
      "{room}: alarm condition ended {time}, reading {value} {unit}. This does not mean the room is safe. Test "
      "before entry; reset at the room after inspection.",
      f);
}

std::string monitored_again_text(const MessageFields& f) {
  return filled(
      "{room}: monitored again since {time}. This does not mean the room is safe. Test before entry; reset at "
      "the room after inspection.",
      f);
}

std::string suppressed_text(const MessageFields& f, std::string_view how) {
  return fmt::format("{} is {} until {} by {}: {}. You will not be warned. Use a certified monitor.", f.alarm, how,
                     f.until, f.by, f.reason);
}

std::string suppressed_by_design_text(const MessageFields& f) {
  return filled("{alarm} is suppressed by design: {reason}. You will not be warned. Use a certified monitor.", f);
}

std::string alarm_test_text(const MessageFields& f) {
  return filled("TEST ALARM {alarm} in {room} from Oxherd at {site}, {time}, by {by}. The condition is simulated; the "
                "air is not judged by this message. Acknowledge to prove the route. If you did not expect it, take it "
                "for real until {by} says otherwise.",
                f);
}

std::string guard_band_text(std::string_view value, std::string_view expanded, std::string_view reason) {
  return fmt::format("Alarm raised because the reading is uncertain: {} % ± {} %, {}.", value, expanded, reason);
}

} // namespace oxherd::alarms
