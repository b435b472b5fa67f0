#pragma once

#include <string>

#include "daemon/cli/leak_test_series.hpp"

namespace oxherd::daemon::cli {

/// What to do before and during a test, in the room.
[[nodiscard]] std::string_view leak_test_conduct();

// For a person, ended by a line break; or one JSON object, its units in the keys.
[[nodiscard]] std::string leak_text(const LeakTestCase& test, const LeakSeries& series,
                                    const control::LeakResult& result);
[[nodiscard]] std::string leak_json(const LeakTestCase& test, const LeakSeries& series,
                                    const control::LeakResult& result);
[[nodiscard]] std::string air_change_text(const LeakTestCase& test, const LeakSeries& series,
                                          const control::AirChange& result);
[[nodiscard]] std::string air_change_json(const LeakTestCase& test, const LeakSeries& series,
                                          const control::AirChange& result);

} // namespace oxherd::daemon::cli
