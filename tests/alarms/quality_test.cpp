#include "alarms/quality.hpp"

#include <gtest/gtest.h>

namespace oxherd::alarms_quality_test {

using namespace alarms;

constexpr Status mildest_first[] = {Status::ok, Status::maintenance_required, Status::out_of_specification,
                                    Status::function_check, Status::failure};

TEST(Quality, FollowsTheStatusCategories) {
  EXPECT_EQ(quality_of(Status::ok), Quality::good);
  EXPECT_EQ(quality_of(Status::maintenance_required), Quality::good);
  EXPECT_EQ(quality_of(Status::out_of_specification), Quality::uncertain);
  EXPECT_EQ(quality_of(Status::function_check), Quality::bad);
  EXPECT_EQ(quality_of(Status::failure), Quality::bad);
}

TEST(Quality, TheGraverOfTwoStatusesWinsInEitherOrder) {
  for (const Status a : mildest_first)
    for (const Status b : mildest_first) {
      EXPECT_EQ(graver(a, b), a > b ? a : b);
      EXPECT_EQ(graver(a, b), graver(b, a));
    }
}

TEST(Quality, TheGravestOfNoReasonsIsOk) { EXPECT_EQ(gravest({}), Status::ok); }

TEST(Quality, OneGraveReasonAmongMildOnesDecides) {
  EXPECT_EQ(gravest({{Status::maintenance_required, "cell is old"},
                     {Status::failure, "no reply"},
                     {Status::out_of_specification, "pressure probe lost"}}),
            Status::failure);
  EXPECT_EQ(gravest({{Status::out_of_specification, "warming up"}, {Status::function_check, "being calibrated"}}),
            Status::function_check);
}

TEST(Quality, NamesAreThoseOfRecordsAndMessages) {
  EXPECT_EQ(name_of(Status::ok), "ok");
  EXPECT_EQ(name_of(Status::maintenance_required), "maintenance_required");
  EXPECT_EQ(name_of(Status::out_of_specification), "out_of_specification");
  EXPECT_EQ(name_of(Status::function_check), "function_check");
  EXPECT_EQ(name_of(Status::failure), "failure");
  EXPECT_EQ(name_of(Quality::good), "good");
  EXPECT_EQ(name_of(Quality::uncertain), "uncertain");
  EXPECT_EQ(name_of(Quality::bad), "bad");
}

TEST(Quality, KindsOfReasonsAreReadBackByTheirNames) {
  for (const auto kind : {ReasonKind::other, ReasonKind::temperature_lost, ReasonKind::humidity_lost,
                          ReasonKind::humidity_temperature_lost, ReasonKind::pressure_lost})
    EXPECT_EQ(reason_kind_named(name_of(kind)), kind) << name_of(kind);
  EXPECT_EQ(name_of(ReasonKind::pressure_lost), "pressure_lost");
  EXPECT_FALSE(reason_kind_named("bored"));
}

} // namespace oxherd::alarms_quality_test
