#include "daemon/http/metrics.hpp"

#include <gtest/gtest.h>

// The daemon in figures, for programs that collect them.
namespace oxherd::http_metrics_test {

using namespace daemon::http;

const std::string line =
    R"({"ok":true,"result":{"rooms":[{"room":"cryo \"annexe\"","monitored":false,"dry_fraction":null,
  "u_expanded":null,"co2_fraction":0.0006,"relay_energised":true,
  "alarms":[{"alarm":"low-oxygen","priority":"critical","state":"unacknowledged"}],
  "sensors":[{"sensor":"cell-a","quality":"bad"}]}],
  "buses":[{"name":"plant","connected":true,"polls":12,"failures":3}],"outputs":[],"mqtt":{"configured":false},
  "store":{"writing":true,"waiting":0},"evaluations":40,"polls_dropped":0}})";

HttpRequest asking(std::string accept) {
  HttpRequest request;
  request.headers["accept"] = std::move(accept);
  return request;
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

// OpenMetrics 1.0 (draft-ietf-opsawg-openmetrics): a counter's family without _total, state sets, an end mark.
TEST(Metrics, AreOpenMetricsForWhoAsksForIt) {
  const auto answer =
      metrics_answer(exposition_for(asking("application/openmetrics-text;version=1.0.0,*/*;q=0.1")), line);
  EXPECT_EQ(answer.type, "application/openmetrics-text; version=1.0.0; charset=utf-8");
  EXPECT_TRUE(has(answer.body, "# TYPE oxherd_bus_polls counter\n")) << answer.body;
  EXPECT_TRUE(has(answer.body, "\noxherd_bus_polls_total{bus=\"plant\"} 12\n"));
  EXPECT_TRUE(has(answer.body, "# TYPE oxherd_alarm_state stateset\n"));
  EXPECT_TRUE(has(answer.body, "# UNIT oxherd_room_carbon_dioxide_ratio ratio\n"));
  EXPECT_TRUE(answer.body.ends_with("# EOF\n"));
}

TEST(Metrics, AreTheOlderTextForEverybodyElse) {
  const auto answer = metrics_answer(exposition_for(asking("*/*")), line);
  EXPECT_EQ(answer.type, "text/plain; version=0.0.4; charset=utf-8");
  EXPECT_TRUE(has(answer.body, "# TYPE oxherd_bus_polls_total counter\n")) << answer.body;
  EXPECT_FALSE(has(answer.body, "stateset"));
  EXPECT_FALSE(has(answer.body, "# EOF"));
}

TEST(Metrics, TellWhatWaitsForTheBrokerAndWhatWasGivenUp) {
  std::string with_broker = line;
  const std::string without = R"("mqtt":{"configured":false})";
  with_broker.replace(with_broker.find(without), without.size(),
                      R"("mqtt":{"configured":true,"connected":false,"waiting":4003,"on_disk":4000,"dropped":7})");
  const auto text = metrics_answer(Exposition::text, with_broker).body;
  EXPECT_TRUE(has(text, "oxherd_broker_connected 0\n")) << text;
  EXPECT_TRUE(has(text, "oxherd_broker_waiting 4003\n"));
  EXPECT_TRUE(has(text, "oxherd_broker_waiting_on_disk 4000\n"));
  EXPECT_TRUE(has(text, "oxherd_broker_measurements_dropped_total 7\n"));
}

// Text form 0.0.4 and OpenMetrics 1.0 alike: buckets add up, the last is +Inf and equal to the count.
TEST(Metrics, TellHowLongDecisionsTookAsAHistogram) {
  std::string with_output = line;
  const std::string none = R"("outputs":[])";
  with_output.replace(with_output.find(none), none.size(),
                      R"("outputs":[{"name":"horn","confirmed":true,"decision_to_write":{"count":3,"total_ms":7.5,
  "within":[{"ms":0.25,"count":1},{"ms":1.0,"count":2}]}}])");
  const auto text = metrics_answer(Exposition::text, with_output).body;
  EXPECT_TRUE(has(text, "# TYPE oxherd_output_decision_to_write_seconds histogram\n")) << text;
  EXPECT_TRUE(has(text, "_bucket{output=\"horn\",le=\"0.00025\"} 1\n")) << text;
  EXPECT_TRUE(has(text, "_bucket{output=\"horn\",le=\"0.001\"} 2\n"));
  EXPECT_TRUE(has(text, "_bucket{output=\"horn\",le=\"+Inf\"} 3\n"));
  EXPECT_TRUE(has(text, "oxherd_output_decision_to_write_seconds_sum{output=\"horn\"} 0.0075\n"));
  EXPECT_TRUE(has(text, "oxherd_output_decision_to_write_seconds_count{output=\"horn\"} 3\n"));
}

TEST(Metrics, TellHowTheSparkplugEdgeNodeIsDoingWhereThereIsOne) {
  EXPECT_FALSE(has(metrics_answer(Exposition::text, line).body, "oxherd_sparkplug_connected"));
  std::string with_node = line;
  const std::string last = R"("polls_dropped":0)";
  with_node.replace(with_node.find(last), last.size(),
                    last + R"(,"sparkplug":{"configured":true,"connected":true,"commands_ignored":3})");
  const auto text = metrics_answer(Exposition::text, with_node).body;
  EXPECT_TRUE(has(text, "oxherd_sparkplug_connected 1\n")) << text;
  EXPECT_TRUE(has(text, "oxherd_sparkplug_commands_ignored_total 3\n"));
}

TEST(Metrics, OfTheHistorianTellWhatBecameOfWhatCame) {
  std::string of_historian = line;
  const std::string last = R"("polls_dropped":0)";
  of_historian.replace(of_historian.find(last), last.size(),
                       last + R"(,"collect":{"received":9,"stored":70,"again":6,)"
                              R"("differing":5,"without_use":4,"malformed":3,)"
                              R"("last_commit":null,"commit_age_s":2.5,)"
                              R"("roll_up_trouble":"no"})");
  const auto text = metrics_answer(Exposition::text, of_historian).body;
  EXPECT_TRUE(has(text, "oxherd_collect_messages_total 9\n")) << text;
  EXPECT_TRUE(has(text, "oxherd_collect_messages_malformed_total 3\n"));
  EXPECT_TRUE(has(text, "oxherd_collect_samples_total{outcome=\"stored\"} 70\n"));
  EXPECT_TRUE(has(text, "oxherd_collect_samples_total{outcome=\"again\"} 6\n"));
  EXPECT_TRUE(has(text, "oxherd_collect_samples_total{outcome=\"differing\"} 5\n"));
  EXPECT_TRUE(has(text, "oxherd_collect_samples_total{outcome=\"without_use\"} 4\n"));
  EXPECT_TRUE(has(text, "oxherd_collect_commit_age_seconds 2.5\n"));
  EXPECT_TRUE(has(text, "oxherd_collect_rolling_up 0\n"));
  EXPECT_FALSE(has(metrics_answer(Exposition::text, line).body, "collect")) << "a daemon collects nothing";
}

TEST(Metrics, LeaveOutWhatIsNotKnownAndSayThatARoomIsNotMonitored) {
  const auto text = metrics_answer(Exposition::text, line).body;
  EXPECT_TRUE(has(text, "oxherd_room_monitored{room=\"cryo \\\"annexe\\\"\"} 0\n")) << text;
  EXPECT_FALSE(has(text, "oxherd_room_oxygen_ratio"));
  EXPECT_FALSE(has(text, "oxherd_broker_connected")) << "there is none";
  EXPECT_TRUE(has(text, "oxherd_alarm_state=\"unacknowledged\"} 1\n"));
  EXPECT_TRUE(has(text, "oxherd_alarm_state=\"normal\"} 0\n"));
  EXPECT_TRUE(has(text, "sensor=\"cell-a\"} 0\n"));
}

TEST(Metrics, AreAProblemWhenThereIsNoStatus) {
  EXPECT_EQ(metrics_answer(Exposition::text, R"({"ok":false,"kind":"busy","error":"x"})").status, 500);
  EXPECT_EQ(metrics_answer(Exposition::text, "").status, 500);
}

} // namespace oxherd::http_metrics_test
