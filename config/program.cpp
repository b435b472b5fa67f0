#include <array>

#include <fmt/core.h>

#include "config/hours.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using control::AfterOutage;
using control::Anchor;

constexpr std::array<Choice<bool>, 2> program_kinds{{{"day", true}, {"elapsed", false}}};
constexpr std::array<Choice<AfterOutage>, 4> outage_rules{{{"continue", AfterOutage::go_on},
                                                           {"join", AfterOutage::join},
                                                           {"restart", AfterOutage::restart},
                                                           {"stop", AfterOutage::stop}}};
constexpr QuantityRule ramp_span{Dimension::duration, 0.0, 10.0 * 86400.0, "0 s to 10 d"};
constexpr QuantityRule soak_span{Dimension::duration, 0.0, 92.0 * 86400.0, "0 s to 92 d"};
constexpr QuantityRule sun_offset_span{Dimension::duration, -6.0 * 3600.0, 6.0 * 3600.0, "-6 h to 6 h"};
constexpr QuantityRule outage_span{Dimension::duration, 0.0, 7.0 * 86400.0, "0 s to 7 d"};

double read_step_target(TableReader& in, const ProgramValue& of) {
  in.require("to", of.example);
  return in.quantity("to", of.set_point).value_or(0.0);
}

control::Ramp read_ramp(TableReader& in, const ProgramValue& of) {
  control::Ramp ramp;
  ramp.over = in.duration("over", ramp_span).value_or(ramp.over);
  ramp.most_per_h = in.quantity("per_hour", of.distance);
  return ramp;
}

Anchor read_anchor(TableReader& in, const Site& site) {
  Anchor anchor;
  in.require("at", "\"06:00\"");
  const auto at = in.text("at");
  if (!at) {
    in.pass_over("offset");
    return anchor;
  }
  if (*at == "sunrise" || *at == "sunset") {
    anchor.to = *at == "sunrise" ? Anchor::To::sunrise : Anchor::To::sunset;
    if (!site.place) in.error("at", fmt::format("{} needs latitude and longitude in [site]", *at));
    if (const auto offset = in.duration("offset", sun_offset_span))
      anchor.offset = std::chrono::duration_cast<std::chrono::seconds>(*offset);
    return anchor;
  }
  if (in.has("offset")) in.error("offset", "belongs to at = \"sunrise\" or \"sunset\"");
  const auto minute = time_of_day(*at);
  if (!minute || *minute >= minutes_of_day)
    in.error("at", fmt::format("\"{}\" is no time of a day; write \"06:00\", \"sunrise\" or \"sunset\"", *at));
  anchor.offset = std::chrono::minutes{minute.value_or(0)};
  return anchor;
}

control::DayProgram read_day(TableReader& in, const ProgramValue& of, const Site& site) {
  control::DayProgram program;
  for (auto& step : in.tables("steps")) {
    const auto begins = read_anchor(step, site);
    const double target = read_step_target(step, of);
    program.steps.push_back({begins, target, read_ramp(step, of)});
    step.finish();
  }
  program.most_per_h = in.quantity("per_hour_at_most", of.distance);
  for (const std::string_view key : {"after_outage", "outage_at_most"})
    if (in.has(key))
      in.error(key, "belongs to kind \"elapsed\"; a program of the day is joined where the clock has it");
  return program;
}

control::ElapsedProgram read_elapsed(TableReader& in, const ProgramValue& of) {
  control::ElapsedProgram program;
  for (auto& step : in.tables("steps")) {
    const double target = read_step_target(step, of);
    const auto ramp = read_ramp(step, of);
    const auto soak = step.duration("soak", soak_span).value_or(std::chrono::milliseconds{0});
    program.steps.push_back({target, ramp, soak});
    step.finish();
  }
  program.most_per_h = in.quantity("per_hour_at_most", of.distance);
  program.after_outage = in.choice("after_outage", outage_rules).value_or(program.after_outage);
  program.outage_most = in.duration("outage_at_most", outage_span).value_or(program.outage_most);
  return program;
}

} // namespace

control::Locality locality_of(const Site& site) {
  return {[zone = site.zone](control::WallTime at) { return std::chrono::seconds{offset_s(zone, at)}; }, site.place};
}

control::Program read_program(TableReader in, const ProgramValue& of, const Site& site) {
  const bool by_day = in.choice("kind", program_kinds).value_or(true);
  in.require("steps", by_day ? "[{ at = \"06:00\", to = \"21 °C\" }]" : "[{ to = \"5 °C\", soak = \"24 h\" }]");
  const bool sound_so_far = !in.problems().has_error_under(in.path());
  const auto checked = [&](auto program, const std::vector<std::string>& problems) -> control::Program {
    in.finish();
    // What is wrong with single keys would only be said again in other words.
    if (sound_so_far && !in.problems().has_error_under(in.path()))
      for (const auto& problem : problems) in.error("steps", problem);
    return program;
  };
  if (by_day) {
    const auto program = read_day(in, of, site);
    return checked(program, problems_of(program, locality_of(site)));
  }
  const auto program = read_elapsed(in, of);
  return checked(program, problems_of(program));
}

} // namespace oxherd::config
