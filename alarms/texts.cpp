#include "alarms/texts.hpp"

#include <fmt/format.h>

namespace oxherd::alarms {

namespace {

/// Fills `{field}` by its name, so that a text below reads as a person reads it.
std::string filled(fmt::string_view text, const MessageFields& f) {
  return fmt::vformat(
      text,
      fmt::make_format_args(fmt::arg("room", f.room), fmt::arg("value", f.value), fmt::arg("lower", f.lower),
                            fmt::arg("limit", f.limit), fmt::arg("time", f.since), fmt::arg("emergency", f.emergency),
                            fmt::arg("reason", f.reason), fmt::arg("unit", f.unit), fmt::arg("alarm", f.alarm),
                            fmt::arg("site", f.site), fmt::arg("by", f.by), fmt::arg("until", f.until),
                            fmt::arg("quantity", f.quantity), fmt::arg("reference", f.reference)));
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
  return filled("LOW OXYGEN {room}: {value} {unit} (could be {lower} {unit}), limit {limit} {unit}, since {time}. "
                "Leave now. Stay out. "
                "Do not go in to help someone who has collapsed: call {emergency} and rescuers with breathing "
                "apparatus. This message supplements the room's certified monitor.",
                f);
}

std::string high_oxygen_text(const MessageFields& f) {
  return filled("HIGH OXYGEN {room}: {value} {unit} (could be {lower} {unit}), limit {limit} {unit}, since {time}. "
                "Things catch fire "
                "easily and burn fiercely. Leave now. Stay out. Keep flames and sparks away, also from clothes that "
                "were in the room. This message supplements the room's certified monitor.",
                f);
}

std::string oxygen_above_limit_text(const MessageFields& f) {
  return filled(
      "OXYGEN ABOVE ITS LIMIT {room}: {value} {unit} (could be {lower} {unit}), limit {limit} {unit}, since "
      "{time}. Look for a leak or an open door from outside. This air may still not sustain life: do not enter "
      "without testing with a certified monitor.",
      f);
}

std::string low_carbon_dioxide_text(const MessageFields& f) {
  return filled(
      "LOW CO2 {room}: {value} ppm, limit {limit} ppm, since {time}. Check the dosing and its supply. This says "
      "nothing of the oxygen in the room.",
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

std::string falling_text(const MessageFields& f) {
  return filled(
      "FALLING FAST {room}: {quantity} falls by {value} (could be {lower}), limit {limit}, since {time}. A limit "
      "may be near. Be ready to leave at once; if you are outside, stay out until the cause is known and the "
      "air is tested. This message supplements the room's certified monitor.",
      f);
}

std::string limit_near_text(const MessageFields& f) {
  return filled("LIMIT NEAR {room}: {quantity} will reach {reference} in {value} if it goes on as it does (could be in "
                "{lower}), since {time}. Leave while there is time, and stay out. This message supplements the room's "
                "certified monitor.",
                f);
}

std::string average_text(const MessageFields& f, std::string_view which) {
  return fmt::format("{} AVERAGE ", which) +
         filled(
             "{room}: {quantity} averaged over {reference} is {value} (could be {lower}), limit {limit}, since {time}. "
             "People in there have borne it for long, even where single readings look normal: let them leave, and "
             "find the cause. This message supplements the room's certified monitor.",
             f);
}

std::string disagreement_text(const MessageFields& f) {
  return filled(
      "CHANNELS DISAGREE {room}: their readings of {quantity} differ by {value}, limit {limit}, since {time}; "
      "their uncertainties explain {lower}. One of them is wrong and nobody knows which: act on the worst of "
      "them, and check them with a gas that is known.",
      f);
}

std::string deviation_text(const MessageFields& f) {
  return filled(
      "OFF ITS SET POINT {room}: {quantity} is {value} (could be {lower}) away from {reference}, limit {limit}, "
      "since {time}. See to what controls it. Do not enter without testing with a certified monitor.",
      f);
}

std::string degraded_text(const MessageFields& f) {
  return filled(
      "{room} VOTES WITHOUT ALL ITS CHANNELS since {time}: {reason}. One more fault may leave it not monitored. "
      "Repair it: after {limit} the room counts as not monitored.",
      f);
}

std::string votes_again_text(const MessageFields& f) {
  return filled(
      "{room}: all its channels vote again since {time}. This does not mean the room is safe. Test before entry.", f);
}

std::string door_open_text(const MessageFields& f) {
  return filled(
      "DOOR OPEN {room}: for longer than {limit}, since {time}. Its air may be that of a sealed room still, and "
      "reach those outside. Do not enter without testing with a certified monitor.",
      f);
}

std::string output_lost_text(const MessageFields& f) {
  return filled("OUTPUT LOST {room}: {reason}; since {time}. People in and near the room may not be warned: watch it "
                "in another way until the output is repaired and proved.",
                f);
}

std::string outputs_again_text(const MessageFields& f) {
  return filled("The outputs of {room} hold again what they are told since {time}. Prove the one that was lost before "
                "you rely on it.",
                f);
}

std::string control_tripped_text(const MessageFields& f) {
  return filled("CONTROL TRIPPED {room}: {reason}; since {time}. It stays off until a person has looked at the room, "
                "from outside, and released it. Do not enter without testing with a certified monitor.",
                f);
}

std::string control_released_text(const MessageFields& f) {
  return filled(
      "What had tripped in {room} was released, since {time}. This does not mean the room is safe. Test before "
      "entry.",
      f);
}

std::string suppressed_text(const MessageFields& f, std::string_view how) {
  return fmt::format("{} is {} until {} by {}: {}. You will not be warned. Use a certified monitor.", f.alarm, how,
                     f.until, f.by, f.reason);
}

std::string suppressed_by_design_text(const MessageFields& f) {
  return filled("{alarm} is suppressed by design: {reason}. You will not be warned. Use a certified monitor.", f);
}

std::string out_of_force_text(const MessageFields& f) {
  return filled(
      "{room}: {alarm} is no longer in force, because {reason} and its door closed. Its air may be as deadly as "
      "before. Test before entry; acknowledge, and reset at the room after inspection.",
      f);
}

std::string alarm_test_text(const MessageFields& f) {
  return filled("TEST ALARM {alarm} in {room} from Oxherd at {site}, {time}, by {by}. The condition is simulated; the "
                "air is not judged by this message. Acknowledge to prove the route. If you did not expect it, take it "
                "for real until {by} says otherwise.",
                f);
}

std::string guard_band_text(std::string_view value, std::string_view expanded, std::string_view unit,
                            std::string_view reason) {
  return fmt::format("Alarm raised because the reading is uncertain: {} {} ± {} {}, {}.", value, unit, expanded, unit,
                     reason);
}

} // namespace oxherd::alarms
