#pragma once

#include <functional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/rehearse/data_source.hpp"
#include "daemon/rehearse/figures.hpp"
#include "daemon/rehearse/room_rehearsal.hpp"

namespace oxherd::daemon::rehearse {

/// More lines than this are refused: nobody reads them, and they would fill the memory.
inline constexpr std::size_t journal_lines_max = 100'000;

/// A settings file whose alarms are rehearsed.
struct Rules {
  std::string file;
  config::Settings settings;
};

/// What one file's rules would have made of the data.
struct RuleOutcome {
  std::string file;
  std::vector<config::Room> rooms;  ///< as they were rehearsed
  std::vector<std::string> said;    ///< what could not be rehearsed as the file has it
  std::vector<AlarmRecord> journal; ///< of all rooms, by time
  std::vector<AlarmFigures> figures;
};

struct Rehearsed {
  DataNotes data;
  std::vector<DataChannel> channels;
  Stretch period;
  Conduct conduct;
  std::uint64_t samples = 0;
  std::vector<RuleOutcome> rules; ///< in the order given
  std::vector<Pair> pairs;        ///< of two files: every occurrence, matched
};

struct Rehearsing {
  std::vector<Rules> rules; ///< one or two
  Conduct conduct;
  /// Called now and then; false stops the rehearsal.
  std::function<bool(std::uint64_t samples, std::optional<double> part)> progress{};
};

/// Runs the rules over the data, both files in the same pass.
[[nodiscard]] tl::expected<Rehearsed, logfile::Failure> rehearse(DataSource& data, const Rehearsing& rehearsing);

} // namespace oxherd::daemon::rehearse
