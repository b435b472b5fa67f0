#include "daemon/calibration/certificate.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/calibration/html.hpp"
#include "daemon/calibration/rounding.hpp"
#include "tests/daemon/calibration/records.hpp"

namespace oxherd::daemon::certificate_test {

using namespace example_records;

CalibrationRecord recalibrated() {
  auto record = adjustment(42, day(2026, 9, 1) + std::chrono::minutes{555});
  record.points.insert(record.points.begin(), nitrogen_point());
  record.points[0].as_found = dry(0.0021, 0.0008);
  record.points[0].as_left = dry(0.00001, 0.0007);
  record.points[1].as_found = dry(0.2031, 0.0011);
  record.points[1].as_left = dry(0.20946, 0.0006);
  record.points[1].pressure_from = "elevation 212 m";
  record.warnings = {"the sensitivity is 11.6 % lower"};
  record.reason = "cell aged";
  record.supersedes = 41;
  return record;
}

CertificateOptions larkfield() {
  CertificateOptions options;
  options.issued = day(2026, 9, 2);
  options.head.organisation = "Larkfield Plant Station";
  options.head.owner = "Larkfield cryo group";
  options.head.number_prefix = "LK-CAL-";
  options.head.authorised_by = "M. Teasel";
  return options;
}

testing::AssertionResult holds(const std::string& text, std::string_view part) {
  if (text.find(part) != std::string::npos) return testing::AssertionSuccess();
  return testing::AssertionFailure() << "\"" << part << "\" is not in it";
}

// GUM (JCGM 100:2008), 7.2.6: its example 10.057 62 ohm with u = 27 milliohm is given as 10.058 ohm.
TEST(Rounded, GivesTheUncertaintyTwoDigitsAndTheValueTheSame) {
  struct Row {
    double value, expanded;
    std::string_view text;
  };
  constexpr Row rows[] = {{10.05762, 0.027, "10.058 ± 0.027"},   {12.6, 0.02, "12.600 ± 0.020"},
                          {12.6, 0.0996, "12.60 ± 0.10"},        {20.946, 0.0994, "20.946 ± 0.099"},
                          {99800.0, 60.0, "99800 ± 60"},         {99812.0, 640.0, "99810 ± 640"},
                          {99812.0, 996.0, "99800 ± 1000"},      {1.4, 9.96, "1 ± 10"},
                          {-0.001, 0.16, "0.00 ± 0.16"},         {-0.64, 0.22, "-0.64 ± 0.22"},
                          {0.0, 3e-7, "0.00000000 ± 0.00000030"}};
  for (const auto& row : rows) EXPECT_EQ(with_expanded({row.value, row.expanded}), row.text);
}

TEST(Rounded, ClaimsNoUncertaintyThatIsNotThere) {
  EXPECT_EQ(with_expanded({12.6, 0.0}), "12.6");
  EXPECT_EQ(with_expanded({1.0 / 3.0, 0.0}), "0.333333");
  EXPECT_EQ(with_expanded({12.6, std::numeric_limits<double>::quiet_NaN()}), "12.6");
  EXPECT_EQ(with_expanded({12.6, std::numeric_limits<double>::infinity()}), "12.6");
  EXPECT_EQ(rounded({12.6, 0.0}).expanded, "");
}

// ISO/IEC 17025:2017, 7.8.2.1 and 7.8.4.1, point by point.
TEST(Certificate, CarriesWhatIso17025Asks) {
  const auto html = certificate_html(recalibrated(), larkfield()).value();
  EXPECT_TRUE(holds(html, "<h1>Calibration certificate</h1>")) << "7.8.2.1 a";
  EXPECT_TRUE(holds(html, "Larkfield Plant Station")) << "7.8.2.1 b";
  EXPECT_TRUE(holds(html, "performed at cryo-annexe")) << "7.8.2.1 c";
  EXPECT_TRUE(holds(html, "LK-CAL-000042")) << "7.8.2.1 d";
  EXPECT_TRUE(holds(html, "counter(page) \" of \" counter(pages)")) << "7.8.2.1 d";
  EXPECT_TRUE(holds(html, "End of certificate LK-CAL-000042")) << "7.8.2.1 d";
  EXPECT_TRUE(holds(html, "<dt>Owner</dt><dd>Larkfield cryo group")) << "7.8.2.1 e";
  EXPECT_TRUE(holds(html, "<dt>Method</dt><dd>The signal of the cell was taken")) << "7.8.2.1 f";
  EXPECT_TRUE(holds(html, "serial number <strong>LK-0007</strong>")) << "7.8.2.1 g";
  EXPECT_TRUE(holds(html, "<dt>Condition</dt><dd>no remark was recorded")) << "7.8.2.1 g";
  EXPECT_TRUE(holds(html, "UTC: 2026-09-01 09:15")) << "7.8.2.1 i, performed";
  EXPECT_TRUE(holds(html, "UTC: 2026-09-02 00:00")) << "7.8.2.1 j, issued";
  EXPECT_TRUE(holds(html, "apply to this item only")) << "7.8.2.1 l";
  EXPECT_TRUE(holds(html, "12.600 ± 0.020 mV")) << "7.8.2.1 m";
  EXPECT_TRUE(holds(html, "Authorised by<br><strong>M. Teasel")) << "7.8.2.1 o";
  EXPECT_TRUE(holds(html, "coverage factor k = 2")) << "7.8.4.1 a";
  EXPECT_TRUE(holds(html, "21.00 ± 0.40 °C")) << "7.8.4.1 b";
  EXPECT_TRUE(holds(html, "45.0 ± 4.0 %")) << "7.8.4.1 b";
  EXPECT_TRUE(holds(html, "99.800 ± 0.060 kPa<br><span class=\"small\">from elevation 212 m")) << "7.8.4.1 b";
  EXPECT_TRUE(holds(html, "Certificate LK-C-0831 of the cylinder; valid until 2027-06-30.")) << "7.8.4.1 c";
  EXPECT_TRUE(holds(html, "20.31 ± 0.22 %")) << "7.8.4.1 d, before adjustment";
  EXPECT_TRUE(holds(html, "20.95 ± 0.12 %")) << "7.8.4.1 d, after adjustment";
  EXPECT_TRUE(holds(html, "1.400 ± 0.014 mV/(mol/m³)"));
  EXPECT_TRUE(holds(html, "no accreditation is claimed"));
  EXPECT_TRUE(holds(html, html_text(alarms::caution_long())));
  EXPECT_TRUE(holds(html, "Noted: the sensitivity is 11.6 % lower"));
  EXPECT_TRUE(holds(html, "Replaces record 41."));
}

TEST(Certificate, StatesConformityAndADueDateOnlyWhenAsked) {
  auto options = larkfield();
  const auto plain = certificate_html(recalibrated(), options).value();
  EXPECT_FALSE(holds(plain, "conform"));
  EXPECT_FALSE(holds(plain, "due on"));
  options.conformity = CheckTolerance{};
  options.next_due = day(2026, 12, 1);
  const auto asked = certificate_html(recalibrated(), options).value();
  EXPECT_TRUE(holds(asked, "Decision rule: simple acceptance"));
  EXPECT_TRUE(holds(asked, "0.21 ± 0.16 % O₂</td><td class=\"figure\">± 0.3 % O₂</td><td class=\"figure\">conforms"));
  EXPECT_TRUE(holds(asked, "−0.64 ± 0.22 % O₂</td><td class=\"figure\">± 0.5 % O₂</td><td class=\"figure\">"
                           "<strong>does not conform"));
  EXPECT_TRUE(holds(asked, "next calibration due on 2026-12-01"));
  auto silent = recalibrated();
  for (auto& point : silent.points) point.as_found.reset();
  EXPECT_TRUE(holds(certificate_html(silent, options).value(), "conformity is not stated"));
}

TEST(Certificate, SaysInLargeThatItIsVoid) {
  auto options = larkfield();
  EXPECT_FALSE(holds(certificate_html(recalibrated(), options).value(), "class=\"void\""));
  options.standing = {Standing::Kind::withdrawn, 44};
  EXPECT_TRUE(holds(certificate_html(recalibrated(), options).value(),
                    "<p class=\"void\">WITHDRAWN by record 44. Do not use.</p>"));
  options.standing = {Standing::Kind::replaced, 43};
  EXPECT_TRUE(holds(certificate_html(recalibrated(), options).value(), "SUPERSEDED by LK-CAL-000043. Do not use."));
}

TEST(Certificate, InventsNothingThatWasNotGiven) {
  auto record = check(43, day(2026, 9, 1), 0.2075);
  record.points[0].gas.certificate.clear();
  record.points[0].pressure_from.clear();
  const auto html = certificate_html(record, {.head = {},
                                              .issued = day(2026, 9, 2),
                                              .standing = {},
                                              .item_condition = {},
                                              .conformity = {},
                                              .next_due = {}})
                        .value();
  EXPECT_TRUE(holds(html, "Organisation not stated"));
  EXPECT_TRUE(holds(html, "<dt>Owner</dt><dd>not stated"));
  EXPECT_TRUE(holds(html, "Authorised by<br><strong>not stated"));
  EXPECT_TRUE(holds(html, "traceability is not shown"));
  EXPECT_TRUE(holds(html, "source not recorded"));
  EXPECT_FALSE(holds(html, "as left"));
}

TEST(Certificate, OfABumpTestHasNoNumbers) {
  auto bump = check(44, day(2026, 9, 1), 0.2075);
  bump.act = CalibrationAct::bump_test;
  bump.points.clear();
  auto options = larkfield();
  options.conformity = CheckTolerance{};
  const auto html = certificate_html(bump, options).value();
  EXPECT_TRUE(holds(html, "<h1>Bump test report</h1>"));
  EXPECT_TRUE(holds(html, "This is a qualitative test"));
  EXPECT_FALSE(holds(html, "±"));
  EXPECT_TRUE(holds(html, "End of report LK-CAL-000044"));
}

TEST(Certificate, IsRefusedForAWithdrawal) {
  EXPECT_FALSE(certificate_html(withdrawal(9, day(2026, 1, 1), 8), larkfield()));
  EXPECT_FALSE(certificate_json(withdrawal(9, day(2026, 1, 1), 8), larkfield()));
}

// Whatever a person types anywhere, it stays text: no element, no attribute, no way out of the style sheet.
TEST(Certificate, EscapesEveryTypedText) {
  const std::string bad = "</style><script>x('\"&')</script>\x01";
  auto record = recalibrated();
  record.room = record.sensor = record.serial = record.model = record.author = record.reason = bad;
  record.warnings = {bad};
  for (auto& point : record.points) {
    point.gas.cylinder = point.gas.certificate = bad;
    point.temperature_from = point.humidity_from = point.pressure_from = bad;
  }
  auto options = larkfield();
  options.head = {bad, bad, bad, bad, bad, bad, bad};
  options.item_condition = bad;
  options.standing = {Standing::Kind::replaced, 43};
  const auto html = certificate_html(record, options).value();
  EXPECT_FALSE(holds(html, "<script"));
  EXPECT_EQ(html.find("</style>"), html.rfind("</style>")) << "only the one that ends the style";
  EXPECT_FALSE(holds(html, "x('"));
  EXPECT_FALSE(holds(html, "\x01"));
  EXPECT_TRUE(holds(html, "&lt;script&gt;x(&#39;&quot;&amp;&#39;)"));
  EXPECT_EQ(css_string("LK-1</style>\""), "\"LK\\00002d1\\00003c\\00002fstyle\\00003e\\000022\"");
}

// Pages shall open from a disk and print offline: nothing is fetched.
TEST(Certificate, NeedsNothingFromElsewhere) {
  const auto html = certificate_html(recalibrated(), larkfield()).value();
  for (const auto* part : {"http:", "https:", "//", "src=", "href=", "@import", "url("})
    EXPECT_FALSE(holds(html, part)) << part;
}

TEST(Certificate, SaysTheSameInJson) {
  auto options = larkfield();
  options.conformity = CheckTolerance{};
  options.standing = {Standing::Kind::withdrawn, 44};
  const auto json = nlohmann::json::parse(certificate_json(recalibrated(), options).value());
  EXPECT_EQ(json["number"], "LK-CAL-000042");
  EXPECT_EQ(json["in_force"], false);
  EXPECT_EQ(json["standing"], "WITHDRAWN by record 44. Do not use.");
  EXPECT_EQ(json["coverage_factor"], 2.0);
  EXPECT_EQ(json["performed"], "2026-09-01T09:15:00.000Z");
  EXPECT_EQ(json["issuer"]["place"], "cryo-annexe");
  const auto& air = json["results"][1];
  EXPECT_EQ(air["signal"]["text"], "12.600 ± 0.020");
  EXPECT_EQ(air["signal"]["unit"], "mV");
  EXPECT_NEAR(air["as_left"]["value"], 20.946, 1e-9);
  EXPECT_NEAR(air["as_left"]["expanded"], 0.12, 1e-9);
  EXPECT_EQ(air["station_pressure"]["from"], "elevation 212 m");
  EXPECT_EQ(json["characteristic"]["sensitivity"]["text"], "1.400 ± 0.014");
  EXPECT_EQ(json["conformity"]["conforms"], false);
  EXPECT_EQ(json["conformity"]["points"][0]["conforms"], true);
  EXPECT_EQ(json["record"]["number"], 42);
  EXPECT_TRUE(json["next_due"].is_null());
  EXPECT_TRUE(nlohmann::json::parse(certificate_json(recalibrated(), larkfield()).value())["conformity"].is_null());
}

} // namespace oxherd::daemon::certificate_test
