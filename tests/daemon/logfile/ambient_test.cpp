#include <fmt/core.h>

#include "daemon/logfile/ambient_follower.hpp"
#include "tests/daemon/logfile/logfile_fixture.hpp"

namespace oxherd::daemon::ambient_test {

using logfile_test::cell_tables;
using logfile_test::correct;
using logfile_test::Corrected;
using logfile_test::fields_of;

/// Pressure from a second file, at most one minute away; the pressure that was used is what is written.
std::string recipe(const std::string& pressure = "", const std::string& output = "[\"pressure\", \"remark\"]") {
  return std::string{"[time]\ncolumn = \"time\"\n[signal]\ncolumn = \"mV\"\nunit = \"mV\"\n"
                     "[temperature]\nvalue = \"12.2 °C\"\n[humidity]\nvalue = \"88 %\"\n"
                     "[pressure]\ncolumn = \"p\"\nunit = \"hPa\"\nfrom = \"ambient\"\n"} +
         pressure +
         "[ambient]\nfile = \"second.csv\"\nmax_gap = \"60 s\"\ntime = { column = \"t\", format = \"epoch-s\" }\n" +
         cell_tables + "[output]\ncolumns = " + output + "\ndecimals = 1\n";
}

/// Rows at seconds of 1970, written in RFC 3339.
std::string rows_at(const std::vector<int>& seconds) {
  std::string text = "time,mV\n";
  for (const int s : seconds) text += fmt::format("1970-01-01T00:{:02}:{:02}Z,11.9\n", s / 60, s % 60);
  return text;
}

/// What stands behind each row.
std::vector<std::string> added(const Corrected& done) {
  std::vector<std::string> all;
  const auto lines = done.lines();
  for (std::size_t i = 1; i < lines.size(); ++i) all.push_back(lines[i].substr(lines[i].find(",11.9,") + 6));
  return all;
}
using Texts = std::vector<std::string>;

TEST(ASecondFile, GivesTheValueNearestInTime) {
  const auto done = correct(rows_at({0, 9, 10, 11, 30, 80, 81}), recipe(), "t,p\n0,990\n20,991\n");
  EXPECT_EQ(added(done),
            (Texts{"99.0,", "99.0,", "99.0,", "99.1,", "99.1,", "99.1,", ",pressure has no value near in time"}));
}

TEST(ASecondFile, MayBeginLaterAndEndEarlier) {
  const auto done = correct(rows_at({0, 40, 200}), recipe(), "t,p\n100,990\n101,991\n");
  EXPECT_EQ(added(done),
            (Texts{",pressure has no value near in time", "99.0,", ",pressure has no value near in time"}));
}

TEST(ASecondFile, PassesOverRowsWithoutTheValue) {
  const auto done = correct(rows_at({20}), recipe(), "t,p\n0,990\n19,\n20,NaN\n21,---\n45,991\n");
  EXPECT_EQ(added(done), (Texts{"99.0,"}));
}

TEST(ASecondFile, LeavesOutRowsThatGoBackOrAreNotUnderstoodAndSaysSo) {
  const auto done =
      correct(rows_at({0, 20}), recipe(), "t,p\n0,990\nsoon,700\n20,991\n20,995\n10,996\n30,992,1\n40,993\n");
  EXPECT_EQ(added(done), (Texts{"99.0,", "99.1,"}));
  ASSERT_TRUE(done.summary.ambient);
  const auto& counts = done.summary.ambient->counts;
  EXPECT_EQ(counts.rows, 7U);
  EXPECT_EQ(counts.unreadable, 2U);
  EXPECT_EQ(counts.unreadable_line, 3U);
  EXPECT_EQ(counts.not_increasing, 2U);
  EXPECT_EQ(counts.not_increasing_line, 5U);
  const auto text = logfile::summary_text(done.summary);
  EXPECT_NE(text.find("left out, not later than the row before: 2 rows, first in line 5"), std::string::npos) << text;
}

TEST(ASecondFile, StillServesRowsWhoseTimesGoBack) {
  const auto done = correct(rows_at({0, 100, 200, 0, 100}), recipe(), "t,p\n0,990\n100,991\n200,992\n300,993\n");
  EXPECT_EQ(added(done), (Texts{"99.0,", "99.1,", "99.2,", "99.0,", "99.1,"}));
  EXPECT_EQ(done.summary.not_increasing.rows, 1U);
}

TEST(ASecondFile, NeedsTheTimeOfARow) {
  const auto done = correct("time,mV\nnoon,11.9\n", recipe(), "t,p\n0,990\n");
  EXPECT_EQ(added(done), (Texts{",time is not understood"}));
  EXPECT_EQ(done.summary.bad, 1U);
}

TEST(ASecondFile, MayBeBackedByAStandIn) {
  const auto done =
      correct(rows_at({0, 300}), recipe("otherwise = \"98.8 kPa\"\nu_otherwise = \"8 hPa\"\n"), "t,p\n0,990\n");
  EXPECT_EQ(added(done), (Texts{"99.0,", "98.8,pressure is assumed"}));
  EXPECT_EQ(done.summary.uncertain, 1U);
}

TEST(ASecondFile, IsReportedWhenAColumnIsNotThere) {
  const auto done = logfile_test::Workshop{}.correct(rows_at({0}), recipe(), "t,pressure\n0,990\n");
  EXPECT_NE(done.failure.find("pressure.column: the header of "), std::string::npos) << done.failure;
  EXPECT_NE(done.failure.find("has no column \"p\""), std::string::npos) << done.failure;
}

TEST(ASecondFile, IsReportedWhenItIsNotThere) {
  const auto done = logfile_test::Workshop{}.correct(rows_at({0}), recipe());
  EXPECT_NE(done.failure.find("second.csv: cannot be read: No such file"), std::string::npos) << done.failure;
}

TEST(ATrace, ForgetsTheOldestAndFindsTheRest) {
  logfile::Trace trace;
  const auto last = static_cast<logfile::FileTime>(logfile::Trace::kept) + 99;
  for (logfile::FileTime t = 0; t <= last; ++t) trace.push(t * 10, static_cast<double>(t));
  EXPECT_EQ(trace.nearest(last * 10, 0), static_cast<double>(last));
  EXPECT_EQ(trace.nearest(1000, 0), 100.0) << "the oldest that is kept";
  EXPECT_FALSE(trace.nearest(990, 0));
  EXPECT_FALSE(trace.nearest(last * 10 + 11, 10));
}

} // namespace oxherd::daemon::ambient_test
