#include "alarms/texts.hpp"

#include <gtest/gtest.h>

namespace oxherd::alarms_texts_test {

using namespace alarms;

const MessageFields cryo{.room = "cryo-annexe",
                         .value = "19.75",
                         .lower = "19.43",
                         .limit = "19.5",
                         .since = "2026-03-14 07:05:09",
                         .emergency = "112",
                         .reason = "cell-a and cell-b give no reply",
                         .alarm = "low-oxygen"};

TEST(Cautions, AreWordForWord) {
  EXPECT_EQ(
      caution_long(),
      "Oxherd supplements certified gas monitors, testing of the air before entry, and your confined-space rules. "
      "It never replaces them. It is not a certified safety device and carries no safety integrity level. No "
      "reading from Oxherd, and no silence, means that a room is safe to enter.");
  EXPECT_EQ(caution_short(), "Supplementary monitor. Do not use it to decide that a room is safe. Test the air with a "
                             "certified monitor and follow the entry procedure.");
  EXPECT_EQ(caution_log(), "caution: supplementary monitoring only; neither a reading nor an absence of alarms shows "
                           "that a room is safe");
}

TEST(LowOxygenText, SaysLeaveAndDoNotRescue) {
  EXPECT_EQ(low_oxygen_text(cryo),
            "LOW OXYGEN cryo-annexe: 19.75 % (could be 19.43 %), limit 19.5 %, since 2026-03-14 07:05:09. Leave now. "
            "Stay out. Do not go in to help someone who has collapsed: call 112 and rescuers with breathing apparatus. "
            "This message supplements the room's certified monitor.");
}

TEST(HighOxygenText, WarnsOfFire) {
  MessageFields f = cryo;
  f.value = "23.4", f.lower = "23.7", f.limit = "23.5";
  EXPECT_EQ(high_oxygen_text(f),
            "HIGH OXYGEN cryo-annexe: 23.4 % (could be 23.7 %), limit 23.5 %, since 2026-03-14 07:05:09. Things catch "
            "fire easily and burn fiercely. Leave now. Stay out. Keep flames and sparks away, also from clothes that "
            "were in the room. This message supplements the room's certified monitor.");
}

TEST(HighCarbonDioxideText, SaysThatOxygenMayLookNormal) {
  EXPECT_EQ(
      high_carbon_dioxide_text({.room = "bay-3", .value = "5120", .limit = "5000 ppm"}),
      "HIGH CO2 bay-3: 5120 ppm, limit 5000 ppm. CO2 harms people while oxygen still looks normal. Leave now. Stay "
      "out.");
}

TEST(NotMonitoredText, SaysWhyAndSinceWhen) {
  EXPECT_EQ(not_monitored_text(cryo),
            "cryo-annexe IS NOT MONITORED since 2026-03-14 07:05:09: cell-a and cell-b give no reply. Treat its air as "
            "unknown. Do not enter without testing with a certified monitor.");
}

TEST(ReturnedText, NeverSaysThatTheRoomIsSafe) {
  EXPECT_EQ(returned_text(cryo),
            "cryo-annexe: alarm condition ended 2026-03-14 07:05:09, reading 19.75 %. This does not mean the room is "
            "safe. Test before entry; reset at the room after inspection.");
  MessageFields dioxide = cryo;
  dioxide.value = "900", dioxide.unit = "ppm";
  EXPECT_NE(returned_text(dioxide).find("reading 900 ppm. "), std::string::npos);
}

TEST(GuardBandText, GivesValueAndUncertainty) {
  EXPECT_EQ(guard_band_text("19.75", "0.32", "pressure probe lost"),
            "Alarm raised because the reading is uncertain: 19.75 % ± 0.32 %, pressure probe lost.");
}

TEST(Texts, BracesInAFieldAreOrdinaryCharacters) {
  MessageFields f = cryo;
  f.reason = "status {0x4} {value}";
  EXPECT_NE(not_monitored_text(f).find(": status {0x4} {value}. Treat"), std::string::npos);
}

} // namespace oxherd::alarms_texts_test
