#include "daemon/collect/senml.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace oxherd::daemon::collect::senml_test {

using std::chrono::microseconds;

constexpr SampleTime now{microseconds{1'700'000'000'000'000}};

SampleTime at(double seconds) { return SampleTime{microseconds{std::llround(seconds * 1e6)}}; }

std::vector<SenmlRecord> resolved(std::string_view text) {
  const auto records = resolve_senml(text, now);
  EXPECT_TRUE(records) << (records ? "" : records.error());
  return records.value_or(std::vector<SenmlRecord>{});
}

std::string refusal_of(std::string_view text) {
  const auto records = resolve_senml(text, now);
  return records ? std::string{} : records.error();
}

// RFC 8428, 5.1.1.
TEST(SenmlPack, OfOneRecordHasTheTimeOfItsReceipt) {
  const auto records = resolved(R"([{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}])");
  ASSERT_EQ(records.size(), 1U);
  EXPECT_EQ(records[0], (SenmlRecord{"urn:dev:ow:10e2073a01080063", "Cel", now, 23.1, {}}));
}

// RFC 8428, 5.1.2, third example.
TEST(SenmlPack, GivesEachRecordItsOwnTimeFromTheBaseTime) {
  const auto records = resolved(R"([
     {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
      "bu":"A","bver":5,
      "n":"voltage","u":"V","v":120.1},
     {"n":"current","t":-5,"v":1.2},
     {"n":"current","t":-4,"v":1.3},
     {"n":"current","t":-3,"v":1.4},
     {"n":"current","t":-2,"v":1.5},
     {"n":"current","t":-1,"v":1.6},
     {"n":"current","v":1.7}
   ])");
  ASSERT_EQ(records.size(), 7U);
  EXPECT_EQ(records[0], (SenmlRecord{"urn:dev:ow:10e2073a0108006:voltage", "V", at(1276020076.001), 120.1, {}}));
  EXPECT_EQ(records[1], (SenmlRecord{"urn:dev:ow:10e2073a0108006:current", "A", at(1276020071.001), 1.2, {}}));
  EXPECT_EQ(records[6], (SenmlRecord{"urn:dev:ow:10e2073a0108006:current", "A", at(1276020076.001), 1.7, {}}));
}

// RFC 8428, 5.1.3 and 5.1.4, the first six records.
TEST(SenmlPack, MayTellUnitsApartUnderOneName) {
  const auto records = resolved(R"([
     {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,
      "bu":"%RH","v":20},
     {"u":"lon","v":24.30621},
     {"u":"lat","v":60.07965},
     {"t":60,"v":20.3},
     {"u":"lon","t":60,"v":24.30622},
     {"u":"lat","t":60,"v":60.07965}
   ])");
  ASSERT_EQ(records.size(), 6U);
  const std::string name = "urn:dev:ow:10e2073a01080063";
  EXPECT_EQ(records[0], (SenmlRecord{name, "%RH", at(1.320067464e+09), 20.0, {}}));
  EXPECT_EQ(records[1], (SenmlRecord{name, "lon", at(1.320067464e+09), 24.30621, {}}));
  EXPECT_EQ(records[3], (SenmlRecord{name, "%RH", at(1.320067524e+09), 20.3, {}}));
  EXPECT_EQ(records[5], (SenmlRecord{name, "lat", at(1.320067524e+09), 60.07965, {}}));
}

// RFC 8428, 5.1.5.
TEST(SenmlPack, HasValuesOfOtherTypes) {
  const auto records = resolved(R"([
     {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
     {"n":"label","vs":"Machine Room"},
     {"n":"open","vb":false},
     {"n":"nfc-reader","vd":"aGkgCg"}
   ])");
  ASSERT_EQ(records.size(), 4U);
  EXPECT_EQ(std::get<std::string>(records[1].value), "Machine Room");
  EXPECT_EQ(std::get<bool>(records[2].value), false);
  EXPECT_EQ(std::get<std::string>(records[3].value), "aGkgCg");
}

// RFC 8428, 5.1.6.
TEST(SenmlPack, ChangesItsBaseNameOnTheWay) {
  const auto records = resolved(R"([
     {"bn":"2001:db8::2/","bt":1.320078429e+09,
      "n":"temperature","u":"Cel","v":25.2},
     {"n":"humidity","u":"%RH","v":30},
     {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
     {"n":"humidity","u":"%RH","v":67}
   ])");
  ASSERT_EQ(records.size(), 4U);
  EXPECT_EQ(records[1].name, "2001:db8::2/humidity");
  EXPECT_EQ(records[2].name, "2001:db8::1/temperature");
  EXPECT_EQ(records[3], (SenmlRecord{"2001:db8::1/humidity", "%RH", at(1.320078429e+09), 67.0, {}}));
}

// RFC 8428, 4.5.3.
TEST(SenmlPack, TakesATimeBelow2To28SecondsAsOneFromNow) {
  EXPECT_EQ(resolved(R"([{"n":"a","t":-2,"v":1}])")[0].time, now - std::chrono::seconds{2});
  EXPECT_EQ(resolved(R"([{"bt":-10,"n":"a","t":2.5,"v":1}])")[0].time, now - microseconds{7'500'000});
  EXPECT_EQ(resolved(R"([{"n":"a","t":268435455,"v":1}])")[0].time, now + std::chrono::seconds{268435455});
  EXPECT_EQ(resolved(R"([{"n":"a","t":268435456,"v":1}])")[0].time, at(268435456.0));
}

TEST(SenmlPack, AddsBaseValueAndBaseSum) {
  const auto records = resolved(R"([{"bn":"a","bv":20,"bs":100,"v":0.5,"s":1},{"v":-1},{"vs":"x"}])");
  ASSERT_EQ(records.size(), 3U);
  EXPECT_EQ(std::get<double>(records[0].value), 20.5);
  EXPECT_EQ(records[0].sum, 101.0);
  EXPECT_EQ(std::get<double>(records[1].value), 19.0);
  EXPECT_EQ(std::get<std::string>(records[2].value), "x");
}

TEST(SenmlPack, MaySetItsBasesInARecordOfTheirOwn) {
  const auto records = resolved(R"([{"bn":"a/","bt":1700000000},{"n":"b","v":1}])");
  ASSERT_EQ(records.size(), 1U);
  EXPECT_EQ(records[0].name, "a/b");
}

// RFC 8428, 12.3.1.
TEST(SenmlPack, PassesOverUnknownFieldsUnlessTheyMustBeUnderstood) {
  EXPECT_EQ(resolved(R"([{"n":"a","v":1,"colour":"x"}])").size(), 1U);
  EXPECT_NE(refusal_of(R"([{"n":"a","v":1,"colour_":"x"}])").find("\"colour_\""), std::string::npos);
  EXPECT_NE(refusal_of(R"([{"n":"a","v":1,"bx_":"x"}])").find("\"bx_\""), std::string::npos);
}

TEST(SenmlPack, IsRefusedWholeWithTheRecordAtFault) {
  EXPECT_EQ(resolved("[]").size(), 0U);
  for (const auto* text : {"", "{}", "[1]", R"({"n":"a","v":1})", "[[[[[[[[[[]]]]]]]]]]"})
    EXPECT_NE(refusal_of(text), "") << text;
  for (const auto* second : {R"({"n":"b"})", R"({"n":"b","v":1,"vs":"x"})", R"({"n":"b","v":"1"})",
                             R"({"n":"b","v":1,"t":"x"})", R"({"v":1})", R"({"n":"_b","v":1})", R"({"n":"b b","v":1})",
                             R"({"n":"b","v":1,"t":1e300})", R"({"bver":11,"n":"b","v":1})", R"({"n":"b","vb":1})",
                             R"({"bv":1e308,"n":"b","v":1e308})", R"({"n":"b","vs":"\u0000"})"}) {
    const auto why = refusal_of(std::string{R"([{"n":"a","v":1},)"} + second + "]");
    EXPECT_EQ(why.substr(0, 8), "record 2") << second << ": " << why;
  }
}

} // namespace oxherd::daemon::collect::senml_test
