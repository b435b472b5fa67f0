#pragma once

#include <string>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "config/load.hpp"
#include "daemon/rehearse/csv_data.hpp"
#include "daemon/rehearse/rehearsal.hpp"
#include "tests/daemon/logfile/text_source.hpp"

namespace oxherd::daemon::rehearse_test {

using namespace std::chrono_literals;

inline constexpr WallTime morning{1'772'431'200s}; // 2026-03-02T06:00:00Z

/// A rules file with one room and no sensor; `alarms` are its alarm tables.
inline rehearse::Rules rules_with(const std::string& alarms, const std::string& room = "regime = \"occupied\"\n",
                                  const std::string& file = "rules.toml") {
  const auto text =
      fmt::format("[site]\nname = \"larkfield\"\nelevation = \"212 m\"\n[room.annexe]\n{}{}", room, alarms);
  auto loaded = config::parse(text, file, {}, config::Purpose::rehearse);
  if (!loaded) throw std::runtime_error{config::to_string(loaded.error().front())};
  return {file, std::move(loaded->settings)};
}

inline const std::string low_oxygen = "[room.annexe.alarm.low-oxygen]\n"
                                      "quantity = \"oxygen\"\nbelow = \"19.5 %\"\ndeadband = \"0.2 %\"\n"
                                      "on_delay = \"3 s\"\noff_delay = \"10 s\"\n";

/// Rows of "time,oxygen [%]", one a second from the morning on.
inline std::string rows_of(const std::vector<double>& percent) {
  std::string out = "time,oxygen [%]\n";
  auto ms = morning.time_since_epoch().count();
  for (const double value : percent) {
    out += fmt::format("{},{}\n", ms, value);
    ms += 1000;
  }
  return out;
}

inline std::unique_ptr<rehearse::CsvData> data_of(const std::string& text, const rehearse::CsvWanted& wanted) {
  auto data = rehearse::CsvData::read(std::make_unique<logfile_test::TextSource>(text), "data.csv", wanted);
  if (!data) throw std::runtime_error{data.error().what};
  return std::move(*data);
}

inline rehearse::Rehearsed rehearsed(const std::string& text, std::vector<rehearse::Rules> rules,
                                     const rehearse::Conduct& conduct = {}) {
  const auto rooms = rules.front().settings.rooms;
  const auto data = data_of(text, {.rooms = rooms, .room = {}, .every = {}, .zone = {}, .time_format = {}});
  auto done = rehearse::rehearse(*data, {std::move(rules), conduct});
  if (!done) throw std::runtime_error{done.error().what};
  return std::move(*done);
}

/// "13.0 low-oxygen normal>unacknowledged condition": seconds since the start of the data.
inline std::vector<std::string> lines_of(const std::vector<AlarmRecord>& journal, WallTime start = morning) {
  std::vector<std::string> lines;
  for (const auto& r : journal)
    lines.push_back(fmt::format("{:.3f} {} {}>{} {}{}", std::chrono::duration<double>(r.at - start).count(), r.alarm,
                                alarms::name_of(r.from), alarms::name_of(r.to), r.cause,
                                r.from == r.to ? " " + r.event : ""));
  return lines;
}

} // namespace oxherd::daemon::rehearse_test
