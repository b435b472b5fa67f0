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

const MessageFields falling{.room = "cryo-annexe",
                            .value = "0.80 % per minute",
                            .lower = "0.95 % per minute",
                            .limit = "0.5 % per minute",
                            .since = "07:05",
                            .reason = "cell-a: no reply",
                            .quantity = "oxygen",
                            .reference = "19.5 %"};

TEST(FallingText, SaysHowFastAndToLeaveInTime) {
  EXPECT_EQ(
      falling_text(falling),
      "FALLING FAST cryo-annexe: oxygen falls by 0.80 % per minute (could be 0.95 % per minute), limit 0.5 % per "
      "minute, since 07:05. A limit may be near. Be ready to leave at once; if you are outside, stay out until the "
      "cause is known and the air is tested. This message supplements the room's certified monitor.");
}

TEST(LimitNearText, SaysWhichLimitAndWhen) {
  MessageFields f = falling;
  f.value = "7 min", f.lower = "4 min";
  EXPECT_EQ(limit_near_text(f),
            "LIMIT NEAR cryo-annexe: oxygen will reach 19.5 % in 7 min if it goes on as it does (could be in 4 min), "
            "since 07:05. Leave while there is time, and stay out. This message supplements the room's certified "
            "monitor.");
}

TEST(OtherTexts, NameRoomNumberAndLimitAndNeverSaySafeWithoutANot) {
  for (const auto& text : {average_text(falling, "HIGH"), disagreement_text(falling), deviation_text(falling)})
    for (const auto* part : {"cryo-annexe", "0.80 % per minute", "limit 0.5 % per minute", "since 07:05", "oxygen"})
      EXPECT_NE(text.find(part), std::string::npos) << text;
  EXPECT_NE(degraded_text(falling).find("since 07:05: cell-a: no reply."), std::string::npos);
  EXPECT_NE(door_open_text(falling).find("longer than 0.5 % per minute"), std::string::npos);
  EXPECT_NE(output_lost_text(falling).find("cryo-annexe: cell-a: no reply; since 07:05"), std::string::npos);
  for (const auto& text :
       {falling_text(falling), limit_near_text(falling), average_text(falling, "LOW"), disagreement_text(falling),
        deviation_text(falling), degraded_text(falling), votes_again_text(falling), door_open_text(falling),
        output_lost_text(falling), outputs_again_text(falling)}) {
    EXPECT_EQ(text.find('{'), std::string::npos) << text; // every field was found
    const auto at = text.find("safe");
    EXPECT_TRUE(at == text.npos || text.rfind("This does not mean", at) != text.npos) << text;
  }
}

TEST(GuardBandText, GivesValueAndUncertainty) {
  EXPECT_EQ(guard_band_text("19.75", "0.32", "%", "pressure probe lost"),
            "Alarm raised because the reading is uncertain: 19.75 % ± 0.32 %, pressure probe lost.");
}

TEST(Texts, BracesInAFieldAreOrdinaryCharacters) {
  MessageFields f = cryo;
  f.reason = "status {0x4} {value}";
  EXPECT_NE(not_monitored_text(f).find(": status {0x4} {value}. Treat"), std::string::npos);
}

} // namespace oxherd::alarms_texts_test
