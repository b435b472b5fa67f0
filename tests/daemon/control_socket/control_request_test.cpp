#include "daemon/control_socket/control_request.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

// What a person orders an actuator, a loop or its program to do, as the socket is asked.
namespace oxherd::daemon::control_request_test {

using control::ActuatorAct;
using nlohmann::json;
using ProgramAct = LoopRun::ProgramAct;

json of_output(const char* act, json more = json::object()) {
  json request{{"command", "control"}, {"act", act}, {"output", "bay-vents"}, {"author", "mira"}, {"comment", "heat"}};
  request.update(more);
  return request;
}
json of_loop(const char* act, json more = json::object()) {
  json request{{"command", "control"}, {"act", act},       {"room", "growth-chamber-1"},
               {"loop", "heat"},       {"author", "mira"}, {"comment", "trial"}};
  request.update(more);
  return request;
}

/// Why it is refused; empty where it is not.
std::string refusal(const json& request) {
  const auto parsed = parse_control(request);
  return parsed ? std::string{} : parsed.error();
}

TEST(AnOrder, IsReadForEachActOfAnActuator) {
  for (const auto& [name, act] : {std::pair{"start", ActuatorAct::start}, std::pair{"end", ActuatorAct::end},
                                  std::pair{"hold", ActuatorAct::hold}, std::pair{"automatic", ActuatorAct::automatic},
                                  std::pair{"release", ActuatorAct::release}}) {
    SCOPED_TRACE(name);
    const auto parsed = parse_control(of_output(name, {{"fraction", 0.4}, {"duration_s", 1200}}));
    ASSERT_TRUE(parsed) << parsed.error();
    const auto& order = std::get<ActuatorRequest>(*parsed);
    EXPECT_EQ(order.output, "bay-vents");
    EXPECT_EQ(order.order.act, act);
    EXPECT_EQ(order.order.by, "mira");
    EXPECT_EQ(order.order.because, "heat");
    EXPECT_EQ(order.order.output, 0.4);
    EXPECT_EQ(order.order.duration, std::chrono::minutes{20});
  }
}

TEST(AnOrder, IsReadForEachActOfAProgram) {
  for (const auto& [name, act] :
       {std::pair{"program-start", ProgramAct::start}, std::pair{"program-stop", ProgramAct::stop},
        std::pair{"program-hold", ProgramAct::hold}, std::pair{"program-resume", ProgramAct::resume}}) {
    SCOPED_TRACE(name);
    const auto parsed = parse_control(of_loop(name));
    ASSERT_TRUE(parsed) << parsed.error();
    const auto& asked = std::get<LoopRequest>(*parsed);
    const auto& order = std::get<PlantControl::ProgramOrder>(asked.order);
    EXPECT_EQ(asked.room + "/" + asked.loop, "growth-chamber-1/heat");
    EXPECT_EQ(order.act, act);
    EXPECT_EQ(order.by + ": " + order.because, "mira: trial");
    EXPECT_FALSE(order.duration) << "until somebody resumes it";
  }
  const auto held = parse_control(of_loop("program-hold", {{"duration_s", 600}}));
  EXPECT_EQ(std::get<PlantControl::ProgramOrder>(std::get<LoopRequest>(*held).order).duration,
            std::chrono::minutes{10});
}

TEST(AnOrder, IsReadToBeginTheReportOfALoopAnew) {
  const auto parsed = parse_control(of_loop("begin-report"));
  ASSERT_TRUE(parsed) << parsed.error();
  const auto& asked = std::get<LoopRequest>(*parsed);
  EXPECT_EQ(asked.room + "/" + asked.loop, "growth-chamber-1/heat");
  EXPECT_EQ(std::get<PlantControl::ReportOrder>(asked.order).by, "mira");
}

TEST(AnOrder, IsReadForATuningExperiment) {
  const auto tuning = [](const json& request) {
    const auto parsed = parse_control(request);
    EXPECT_TRUE(parsed) << parsed.error();
    return std::get<TuningOrder>(std::get<LoopRequest>(*parsed).order);
  };
  const auto least = tuning(of_loop("tune", {{"low", "18 degC"}, {"high", "26 degC"}}));
  EXPECT_EQ(least.act, TuningOrder::Act::begin);
  EXPECT_EQ(least.low + ", " + least.high, "18 degC, 26 degC");
  EXPECT_EQ(least.by + ": " + least.because, "mira: trial");
  EXPECT_FALSE(least.output || least.longest);
  const auto most = tuning(of_loop("tune", {{"low", "18 degC"},
                                            {"high", "26 degC"},
                                            {"hysteresis", "0.2 K"},
                                            {"output_low", 0},
                                            {"output_high", 0.6},
                                            {"duration_s", 3600}}));
  EXPECT_EQ(most.hysteresis, "0.2 K");
  EXPECT_EQ(most.output->low, 0.0);
  EXPECT_EQ(most.output->high, 0.6);
  EXPECT_EQ(most.longest, std::chrono::hours{1});
  EXPECT_EQ(tuning(of_loop("end-tuning")).act, TuningOrder::Act::end);
  for (const auto& levels :
       {json{{"output_low", 0.2}}, json{{"output_high", 0.6}}, json{{"output_low", -0.2}, {"output_high", 0.6}},
        json{{"output_low", 20}, {"output_high", 60}}, json{{"output_low", "20%"}, {"output_high", 0.6}}})
    EXPECT_EQ(refusal(of_loop("tune", levels)), "output_low and output_high go together, each from 0 to 1") << levels;
}

TEST(AnOrder, HoldsFromNothingToEverything) {
  for (const double output : {0.0, 1.0}) {
    const auto parsed = parse_control(of_output("hold", {{"fraction", output}, {"duration_s", 60}}));
    ASSERT_TRUE(parsed) << parsed.error();
    EXPECT_EQ(std::get<ActuatorRequest>(*parsed).order.output, output);
  }
}

TEST(AnOrder, IsRefusedWithWordsThatSayWhatIsWrong) {
  EXPECT_EQ(refusal(of_output("open")),
            "\"open\" is nothing that can be ordered: start, end, hold, automatic, release, program-start, "
            "program-stop, program-hold, program-resume, tune, end-tuning, begin-report");
  for (const auto& act : {json(), json(1), json::array({"start"})})
    EXPECT_NE(refusal(of_output("end", {{"act", act}})).find("is nothing that can be ordered"), std::string::npos)
        << act;
  for (const auto& author : {json(), json(""), json("a\nb"), json(7)})
    EXPECT_EQ(refusal(of_output("end", {{"author", author}})),
              "an order needs the name of the person: give \"author\", without control characters")
        << author;
  for (const auto& seconds : {json(-1), json("600"), json(1e9), json()})
    EXPECT_EQ(refusal(of_output("hold", {{"fraction", 1}, {"duration_s", seconds}})),
              "duration_s is a number of seconds up to 2592000")
        << seconds;
  EXPECT_EQ(refusal(of_output("hold", {{"duration_s", 60}})), "fraction is what it is held at, from 0 to 1");
  for (const auto& fraction : {json(-0.1), json(1.1), json(100), json("0.5"), json(true), json()})
    EXPECT_EQ(refusal(of_output("hold", {{"fraction", fraction}, {"duration_s", 60}})),
              "fraction is what it is held at, from 0 to 1")
        << fraction;
}

TEST(AnOrder, NeedsTheNameOfWhatIsOrdered) {
  EXPECT_EQ(refusal(of_loop("end")), "an order needs the name of an output");
  EXPECT_EQ(refusal(of_output("end", {{"output", 3}})), "an order needs the name of an output");
  for (const auto* missing : {"room", "loop"})
    EXPECT_EQ(refusal(of_loop("program-start", {{missing, ""}})), "an order to a loop needs a room and a loop");
  EXPECT_EQ(refusal(of_output("program-start")), "an order to a loop needs a room and a loop");
}

} // namespace oxherd::daemon::control_request_test
