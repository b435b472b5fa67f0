#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/commission/guess.hpp"
#include "daemon/commission/number_ranges.hpp"
#include "drivers/register_bus.hpp"

namespace oxherd::daemon::commission {

/// What is asked of a bus. Only functions 01 to 04 are ever used, which read.
struct SurveyPlan {
  std::vector<NumberRange> units{{1, 247}};
  std::vector<NumberRange> registers{{0, 127}}; ///< of the input and the holding registers; protocol addresses
  std::chrono::milliseconds timeout{500};
  int rounds = 6;
  std::chrono::milliseconds period{1000}; ///< between two rounds
};

/// One coil or discrete input.
struct Bit {
  drivers::Table table = drivers::Table::discrete_input;
  std::uint16_t address = 0;
  bool on = false;
};

/// A unit that answers, and what it holds.
struct SurveyedUnit {
  int unit = 1;
  std::vector<SampledRun> runs{};
  std::vector<Bit> bits{};
  std::vector<std::string> notes{}; ///< what a person should know: "input registers: it fell silent at ..."
};

/// What was found before the end, or before it was cut short.
struct Survey {
  std::vector<SurveyedUnit> units{};
  int asked = 0;                    ///< units that were asked for a sign of life
  std::vector<std::string> notes{}; ///< about the bus as a whole
  bool cut_short = false;
};

/// Where a survey stands: "unit 17 of 247".
struct SurveyProgress {
  std::string what;
  double part = 0.0; ///< of this stage
};

struct SurveyHooks {
  std::function<bool(const SurveyProgress&)> go_on; ///< false stops the survey
  std::function<void(std::chrono::milliseconds)> wait;
};

/// Finds the units that answer, the registers that they have, and reads these again and again. An exception counts as
/// an answer, but for those by which a gateway says that nobody is there.
/// @return the survey, or a sentence when the bus itself cannot be used
/// @checked tests/daemon/commission/survey_test.cpp
[[nodiscard]] tl::expected<Survey, std::string> survey(drivers::RegisterBus& bus, const SurveyPlan& plan,
                                                       const SurveyHooks& hooks);

/// The longest that finding the units may take, when none of them answers.
[[nodiscard]] std::chrono::milliseconds longest_search(const SurveyPlan& plan, bool serial);

} // namespace oxherd::daemon::commission
