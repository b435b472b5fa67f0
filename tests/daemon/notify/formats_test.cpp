#include "daemon/notify/formats.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/notify/people.hpp"

namespace oxherd::daemon::notify_test {

notify::Sender sender() { return {"larkfield", {}, "R. Okafor"}; }

Message alarm_message(Facts f = standing("low-oxygen", Priority::critical)) {
  Message m;
  m.id = "larkfield-t-17";
  m.number = 17;
  m.contact = "okafor";
  m.at = start_wall;
  m.step = 1;
  m.alarms = {std::move(f)};
  return m;
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }
#define EXPECT_HAS(text, part) EXPECT_TRUE(has(text, part)) << text

/// The headers of a mail, without what follows the empty line.
std::string headers_of(const std::string& mail) { return mail.substr(0, mail.find("\r\n\r\n") + 2); }

TEST(Words, OfAnAlarmHaveEverythingAPersonNeeds) {
  const auto words = words_of(alarm_message(), sender());
  EXPECT_EQ(words.brief, "LOW OXYGEN cryo-annexe 19.29 % (limit 19.5 %) 2026-03-02 10:00. Get out, stay out. No rescue "
                         "without breathing apparatus. Supplementary alarm.");
  for (const auto* part : {"Leave now. Stay out.", "cryo-annexe", "19.29 % ± 0.13 % (k = 2)", "Limit:  19.5 %",
                           "2026-03-02T10:00:00+00:00 (UTC), 2026-03-02T10:00:00Z", "Message 17 of larkfield",
                           "Supplementary monitor. Do not use it to decide that a room is safe."})
    EXPECT_HAS(words.body, part);
}

TEST(Words, OfATestSayTestFirst) {
  auto f = standing("low-oxygen", Priority::critical);
  f.test = true;
  const auto words = words_of(alarm_message(f), sender());
  EXPECT_TRUE(words.brief.starts_with("TEST ")) << words.brief;
  EXPECT_TRUE(words.body.starts_with("TEST")) << words.body;
  auto m = alarm_message();
  m.kind = Kind::route_test;
  m.alarms.clear();
  EXPECT_TRUE(words_of(m, sender()).brief.starts_with("TEST ")) << words_of(m, sender()).brief;
}

TEST(Words, AreNeverLongerThan160CharactersInBriefNorCutInsideOne) {
  auto f = standing("low-oxygen", Priority::critical, std::string(63, 'r'));
  f.value_text = "19.29 %";
  const auto words = words_of(alarm_message(f), sender());
  EXPECT_EQ(words.brief.size(), 160U);
  EXPECT_TRUE(words.brief.ends_with("..."));
  EXPECT_EQ(notify::one_line("ääää", 3), "...");
  EXPECT_EQ(notify::one_line("ääääää", 5), "ää...");
  EXPECT_EQ(notify::one_line("äää", 3), "äää");
  EXPECT_EQ(notify::one_line("a\r\nb\xFF", 10), "a  b?");
}

TEST(Words, SayHowManyMoreThereAre) {
  auto m = alarm_message();
  for (int i = 0; i < 7; ++i) m.alarms.push_back(standing("drift-" + std::to_string(i), Priority::high));
  m.alarms[0].about = notify::About::other;
  EXPECT_HAS(words_of(m, sender()).brief, "And 7 more.");
}

TEST(Mail, LetsNoNameOrTextEndAHeader) {
  auto f = standing("low-oxygen", Priority::critical, "annexe\r\nBcc: x@y.example");
  auto to = contact("okafor");
  to.person = "R. \"O\"\r\nBcc: z@y.example";
  const auto headers = headers_of(mail_text(alarm_message(f), sender(), to, "oxherd@larkfield.example"));
  EXPECT_FALSE(has(headers, "\r\nBcc")) << headers;
  EXPECT_HAS(headers, "To: \"R. \\\"O\\\"  Bcc: z@y.example\" <okafor@larkfield.example>\r\n");
  for (std::size_t i = 0; i < headers.size(); ++i)
    if (headers[i] == '\n') {
      EXPECT_EQ(headers[i - 1], '\r');
    }
}

TEST(Mail, EncodesWhatIsNotAsciiAndMarksItselfAsAutomatic) {
  auto to = contact("okafor");
  to.person = "Å. Okafor";
  const auto mail = mail_text(alarm_message(), sender(), to, "oxherd@larkfield.example");
  const auto headers = headers_of(mail);
  EXPECT_HAS(headers, "To: =?utf-8?Q?=C3=85=2E_Okafor?= <okafor@larkfield.example>");
  EXPECT_HAS(headers, "Auto-Submitted: auto-generated\r\n");
  EXPECT_HAS(headers, "Date: Mon, 02 Mar 2026 10:00:00 +0000\r\n");
  EXPECT_HAS(headers, "Message-ID: <larkfield-t-17@larkfield.example>\r\n");
  EXPECT_HAS(mail, "19.29 % =C2=B1 0.13 % (k =3D 2)");
  for (std::size_t begin = 0; begin < mail.size();) { // RFC 5322, 2.1.1: lines should not pass 78 characters
    const auto end = mail.find("\r\n", begin);
    EXPECT_LE(std::min(end, mail.size()) - begin, 78U) << mail.substr(begin, 90);
    if (end == std::string::npos) break;
    begin = end + 2;
  }
}

TEST(Syslog, FollowsRfc5424AndEscapesItsData) {
  auto f = standing("low-oxygen", Priority::critical, "a]b\"c\\d");
  const auto text = syslog_text(alarm_message(f), sender(), 16, "plant host", 4711);
  // local0 is 16, alert is 1 (RFC 5424, tables 1 and 2): 16 * 8 + 1.
  EXPECT_TRUE(text.starts_with("<129>1 2026-03-02T10:00:00.000Z plant_host oxherd 4711 ALARM [oxherd@32473 ")) << text;
  EXPECT_HAS(text, R"(room="a\]b\"c\\d")");
  EXPECT_HAS(text, "] \xEF\xBB\xBFLOW OXYGEN");
  EXPECT_EQ(text.find('\n'), std::string::npos);
  EXPECT_LT(text.size(), 2048U);
  EXPECT_EQ(notify::octet_counted("äb"), "3 äb") << "octets are counted, not characters (RFC 6587, 3.4.1)";
}

TEST(Syslog, GivesEachPriorityItsSeverity) {
  EXPECT_EQ(severity_of(alarm_message(standing("a", Priority::critical))), 1);
  EXPECT_EQ(severity_of(alarm_message(standing("a", Priority::high))), 2);
  EXPECT_EQ(severity_of(alarm_message(standing("a", Priority::medium))), 4);
  EXPECT_EQ(severity_of(alarm_message(standing("a", Priority::low))), 5);
  auto returned = alarm_message();
  returned.kind = Kind::returned;
  EXPECT_EQ(severity_of(returned), 5);
  auto test = standing("a", Priority::critical);
  test.test = true;
  EXPECT_EQ(severity_of(alarm_message(test)), 6) << "a test must wake nobody up";
}

TEST(Cap, AlertsUpdatesAndCancelsWithReferences) {
  auto m = alarm_message();
  const auto first = cap_text(m, sender(), contact("okafor"));
  EXPECT_HAS(first, "<msgType>Alert</msgType>");
  EXPECT_HAS(first, "<status>Actual</status>");
  EXPECT_HAS(first, "<sent>2026-03-02T10:00:00-00:00</sent>") << "CAP-V1.2, 3.3.2: never Z, UTC as -00:00";
  EXPECT_HAS(first, "<responseType>Evacuate</responseType>");
  EXPECT_FALSE(has(first, "<references>"));
  m.earlier = {{"okafor", "larkfield-t-3", start_wall - 60s}};
  EXPECT_HAS(cap_text(m, sender(), contact("okafor")), "<msgType>Update</msgType>");
  m.kind = Kind::returned;
  m.alarms.push_back(m.alarms.front());
  m.alarms[0].state = AlarmState::normal;
  for (const auto state : {AlarmState::returned_to_normal_unacknowledged, AlarmState::latched_unacknowledged,
                           AlarmState::latched_acknowledged}) {
    m.alarms[1].state = state;
    EXPECT_HAS(cap_text(m, sender(), contact("okafor")), "<msgType>Update</msgType>") << "one is not normal yet";
  }
  m.alarms[1].state = AlarmState::normal;
  const auto cancel = cap_text(m, sender(), contact("okafor"));
  EXPECT_HAS(cancel, "<msgType>Cancel</msgType>");
  EXPECT_HAS(cancel, "<references>oxherd.larkfield,larkfield-t-3,2026-03-02T09:59:00-00:00</references>");
  EXPECT_FALSE(has(cancel, "AllClear")) << "no message says that a room is safe";
}

TEST(Cap, EscapesWhatComesFromPeople) {
  auto f = standing("low-oxygen", Priority::critical, "a<b>&\"c\x01");
  f.test = true;
  const auto text = cap_text(alarm_message(f), sender(), contact("okafor"));
  EXPECT_HAS(text, "larkfield, room a&lt;b&gt;&amp;&quot;c </areaDesc>");
  EXPECT_HAS(text, "<status>Test</status>");
}

} // namespace oxherd::daemon::notify_test
