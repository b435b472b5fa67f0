#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compensation/quantity.hpp"
#include "daemon/commission/guess_kinds.hpp"
#include "drivers/register_map.hpp"

namespace oxherd::daemon::commission {

/// Neighbouring registers of one unit, read again and again. Rounds in which the read failed are left out.
struct SampledRun {
  drivers::Table table = drivers::Table::input_register;
  std::uint16_t first = 0;
  std::vector<std::vector<std::uint16_t>> rounds{}; ///< all of one length
};

/// What a person knows about the place and the device.
struct Hints {
  double period_s = 1.0;                       ///< between two rounds
  std::optional<Pressure> standard_pressure{}; ///< of the site's elevation; without it 0 m to 3000 m are possible
  std::vector<config::Measurand> expected{};   ///< nothing else is guessed; empty: anything
};

/// One way to read some registers.
struct Guess {
  const GuessKind* kind = nullptr;
  drivers::Table table = drivers::Table::input_register;
  std::uint16_t address = 0;
  drivers::Encoding encoding = drivers::Encoding::uint16;
  drivers::ByteOrder order = drivers::ByteOrder::abcd;
  double scale = 1.0;
  std::vector<std::uint16_t> words{}; ///< of the last round
  double value = 0.0;                 ///< of the last round, in the kind's unit
  double least = 0.0, greatest = 0.0; ///< of all rounds
  double points = 0.0;
  std::string reason{}; ///< what speaks for it and against it, as clauses joined by semicolons
};

enum class Certainty {
  likely,    ///< no other reading comes near; still only a guess
  ambiguous, ///< another reading is nearly as plausible
  weak       ///< little speaks for it, nothing for another
};
[[nodiscard]] std::string_view name_of(Certainty certainty);

/// One value that a device seems to hold.
struct Finding {
  Guess best;
  std::vector<Guess> rivals; ///< other meanings of the same registers, the most plausible first
  Certainty certainty = Certainty::weak;
};

/// Which values the registers of one device seem to hold, by address. Pure: judged by spans, by how a value moves
/// between rounds, by its neighbours, and by one byte order for the whole device. A register of which nothing is
/// plausible is left out. It never knows: only the device's manual does.
/// @checked tests/daemon/commission/guess_test.cpp
[[nodiscard]] std::vector<Finding> guess_values(const std::vector<SampledRun>& runs, const Hints& hints);

/// The guess as a point of a register map.
[[nodiscard]] drivers::Point point_of(const Guess& guess);
/// The value in SI.
[[nodiscard]] double si_of(const Guess& guess);
[[nodiscard]] std::string_view type_word(drivers::Encoding encoding);    ///< "float32", as profiles write it
[[nodiscard]] std::string_view order_word(drivers::ByteOrder order);     ///< "ABCD"
[[nodiscard]] std::string_view table_word(drivers::Table table);         ///< "input"
[[nodiscard]] std::string_view order_in_words(drivers::ByteOrder order); ///< "high word first"

} // namespace oxherd::daemon::commission
