#include "daemon/control_socket/control_request.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

// What a person orders an actuator or the program of a loop to do, as the socket is asked.
namespace oxherd::daemon::control_request_test {

using control::ActuatorAct;
using nlohmann::json;
using ProgramAct = LoopRun::ProgramAct;

json of_output(const char* act, json more = json::object()) {
  json request{{"command", "control"}, {"act", act}, {"output", "bay-vents"}, {"author", "mira"}, {"comment", "heat"}};
  request.update(more);
  return request;
}
json of_program(const char* act, json more = json::object()) {
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
    const auto parsed = parse_control(of_program(name));
    ASSERT_TRUE(parsed) << parsed.error();
    const auto& asked = std::get<ProgramRequest>(*parsed);
    EXPECT_EQ(asked.room + "/" + asked.loop, "growth-chamber-1/heat");
    EXPECT_EQ(asked.order.act, act);
    EXPECT_EQ(asked.order.by + ": " + asked.order.because, "mira: trial");
    EXPECT_FALSE(asked.order.duration) << "until somebody resumes it";
  }
  EXPECT_EQ(std::get<ProgramRequest>(*parse_control(of_program("program-hold", {{"duration_s", 600}}))).order.duration,
            std::chrono::minutes{10});
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
            "program-stop, program-hold, program-resume");
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
  EXPECT_EQ(refusal(of_program("end")), "an order needs the name of an output");
  EXPECT_EQ(refusal(of_output("end", {{"output", 3}})), "an order needs the name of an output");
  for (const auto* missing : {"room", "loop"})
    EXPECT_EQ(refusal(of_program("program-start", {{missing, ""}})), "an order to a program needs a room and a loop");
  EXPECT_EQ(refusal(of_output("program-start")), "an order to a program needs a room and a loop");
}

} // namespace oxherd::daemon::control_request_test
