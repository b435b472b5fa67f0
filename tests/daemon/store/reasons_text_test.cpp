#include "daemon/store/reasons_text.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::reasons_text_test {

using alarms::ReasonKind;
using alarms::Status;
using store::reasons_from;
using store::reasons_text;

TEST(ReasonsText, GivesStatusWordsAndKindBack) {
  const std::vector<alarms::Reason> given{
      {Status::out_of_specification, "temperature probe lost (no reply)", ReasonKind::humidity_temperature_lost},
      {Status::maintenance_required, "calibration overdue"}};
  const auto read = reasons_from(reasons_text(given));
  ASSERT_TRUE(read) << read.error();
  ASSERT_EQ(read->size(), 2U);
  EXPECT_EQ(read->at(0).status, Status::out_of_specification);
  EXPECT_EQ(read->at(0).text, given[0].text);
  EXPECT_EQ(read->at(0).kind, ReasonKind::humidity_temperature_lost) << "as stored, whatever the words begin with";
  EXPECT_EQ(read->at(1).kind, ReasonKind::other);
  EXPECT_EQ(reasons_text({}), "");
  EXPECT_TRUE(reasons_from("")->empty());
}

TEST(ReasonsText, StoredBeforeKindsWereKeptGetThemFromHowTheyBegin) {
  const auto read = reasons_from(R"([["out_of_specification","temperature probe lost (no reply): 21.0 °C assumed"],
      ["out_of_specification","humidity probe lost (no reply): 50 % assumed"],
      ["out_of_specification","pressure probe lost (no reply): 98.8 kPa assumed"],["failure","no reply"]])");
  ASSERT_TRUE(read) << read.error();
  std::vector<ReasonKind> kinds;
  for (const auto& reason : *read) kinds.push_back(reason.kind);
  EXPECT_EQ(kinds, (std::vector{ReasonKind::temperature_lost, ReasonKind::humidity_lost, ReasonKind::pressure_lost,
                                ReasonKind::other}));
}

TEST(ReasonsText, TakesAKindOfAVersionToComeForAnother) {
  const auto read = reasons_from(R"([["failure","no reply","cable_bitten"]])");
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(read->at(0).kind, ReasonKind::other);
}

TEST(ReasonsText, RefusesWhatIsNone) {
  for (const auto* text : {"{", "[1]", R"([["grumpy","no reply"]])", R"([["failure"]])", R"([["failure","x",3]])"})
    EXPECT_FALSE(reasons_from(text)) << text;
}

} // namespace oxherd::daemon::reasons_text_test
