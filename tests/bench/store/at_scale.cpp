// The records of many channels after years: how large, how fast written, how fast plotted, copied and checked. What
// lies in the past is put there as the writer would have left it (steps of minutes and hours); the last of it is
// written and rolled up by the writer's own code. Usage: oxherd_bench_store FOLDER [CHANNELS [DAYS [DAYS_OF_MINUTES
// [SECONDS]]]]
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <random>

#include <fmt/core.h>

#include "daemon/backup/backup.hpp"
#include "daemon/clock.hpp"
#include "daemon/store/disk_room.hpp"
#include "daemon/store/journal.hpp"
#include "daemon/store/measurements.hpp"
#include "daemon/store/schema.hpp"
#include "daemon/store/trend.hpp"

namespace oxherd::daemon {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

double seconds_since(Clock::time_point begin) { return std::chrono::duration<double>(Clock::now() - begin).count(); }

template <class Result> auto must(Result result) {
  if (!result) {
    fmt::print(stderr, "{}\n", result.error().what);
    std::exit(1);
  }
  if constexpr (!std::is_void_v<typename Result::value_type>) return std::move(*result);
}

struct Size {
  int channels = 1000, days = 730, days_of_minutes = 14, seconds = 1800;
};

std::string room_of(int channel) { return fmt::format("room-{:03}", channel / 10); }
std::string sensor_of(int channel) { return fmt::format("cell-{}", channel % 10); }

store::ReadingRow reading_of(int channel, WallTime at, std::mt19937& random) {
  std::normal_distribution<double> noise{0.0, 1.0};
  store::ReadingRow row;
  row.at = at;
  row.room = room_of(channel);
  row.sensor = sensor_of(channel);
  row.oxygen = 0.2095 + 1e-4 * noise(random);
  row.u_oxygen = 0.0012;
  row.oxygen_wet = *row.oxygen * 0.985;
  row.u_oxygen_wet = 0.0012;
  row.po2_Pa = *row.oxygen * 98600.0;
  row.u_po2_Pa = 120.0;
  row.raw_V = 0.0119 + 1e-6 * noise(random);
  row.temperature_K = 285.0 + 0.1 * noise(random);
  row.u_temperature_K = 0.3;
  row.humidity = 0.6 + 0.001 * noise(random);
  row.u_humidity = 0.03;
  row.pressure_Pa = 98600.0 + 5.0 * noise(random);
  row.u_pressure_Pa = 50.0;
  return row;
}

/// Steps of every channel, in the order of their key.
void put_steps(store::Database& database, std::int64_t step, int channels, std::int64_t from_ms, std::int64_t to_ms) {
  const auto sql = fmt::format(
      "WITH RECURSIVE time(at) AS (SELECT {1} UNION ALL SELECT at + {0} FROM time WHERE at + {0} < {2}) "
      "INSERT INTO rollup(step, sensor, start, readings, bad, oxygen_min, oxygen_max, oxygen_mean, u_oxygen_min, "
      "u_oxygen_max, u_oxygen_mean, po2_Pa_min, po2_Pa_max, po2_Pa_mean, raw_V_min, raw_V_max, raw_V_mean, "
      "temperature_K_min, temperature_K_max, temperature_K_mean, humidity_min, humidity_max, humidity_mean, "
      "pressure_Pa_min, pressure_Pa_max, pressure_Pa_mean) SELECT {0}, ?1, at, {0} / 1000, 0, 0.2091 + n * 1e-7, "
      "0.2099 "
      "+ n * 1e-7, 0.2095 + n * 1e-7, 0.0012, 0.0012, 0.0012, 20600.1 + n * 0.1, 20700.1 + n * 0.1, 20650.1 + n * 0.1, "
      "0.01189 + n * 1e-9, 0.01191 + n * 1e-9, 0.0119 + n * 1e-9, 284.7, 285.3 + n * 1e-4, 285.01 + n * 1e-4, 0.597, "
      "0.603, 0.6 + n * 1e-6, 98585.1, 98615.1 + n * 0.01, 98600.1 + n * 0.01 FROM (SELECT at, (at / 1000) % 997 AS n "
      "FROM time)",
      step, from_ms, to_ms);
  auto insert = must(database.prepare(sql));
  for (int channel = 1; channel <= channels; ++channel) {
    must(database.run("BEGIN IMMEDIATE"));
    must(insert.bind(1, std::int64_t{channel}).run());
    must(database.run("COMMIT"));
    if (channel % 50 == 0) fmt::print(stderr, "\r  {} of {} channels", channel, channels);
  }
  fmt::print(stderr, "\r                             \r");
}

void add_second(std::vector<store::Queued<store::MeasurementRow>>& rows, int channels, WallTime at,
                std::mt19937& random) {
  for (int channel = 0; channel < channels; ++channel) {
    auto reading = reading_of(channel, at, random);
    rows.push_back({0, SampleRecord{at, reading.room, reading.sensor, "oxygen", reading.raw_V, 11.9, alarms::Status::ok,
                                    std::string{}}});
    rows.push_back({0, std::move(reading)});
  }
}

/// What the writer does each second, as fast as it goes.
void write_on(store::Measurements& file, const Size& size, WallTime from) {
  std::mt19937 random{20240229};
  double writing_s = 0.0, rolling_s = 0.0, longest_s = 0.0;
  for (int second = 0; second < size.seconds; ++second) {
    const auto at = from + std::chrono::seconds{second};
    std::vector<store::Queued<store::MeasurementRow>> rows;
    add_second(rows, size.channels, at, random);
    auto begin = Clock::now();
    must(file.write(rows));
    const double wrote_s = seconds_since(begin);
    begin = Clock::now();
    must(file.roll_up(at, milliseconds{100}));
    const double rolled_s = seconds_since(begin);
    writing_s += wrote_s;
    rolling_s += rolled_s;
    longest_s = std::max(longest_s, wrote_s + rolled_s);
  }
  const double rows = 2.0 * size.channels * size.seconds;
  fmt::print("  \"rows_written\": {:.0f}, \"rows_per_s\": {:.0f}, \"share_of_time_at_1_Hz\": {:.3f},\n", rows,
             rows / writing_s, (writing_s + rolling_s) / size.seconds);
  fmt::print("  \"rolling_share\": {:.3f}, \"longest_second_s\": {:.3f},\n", rolling_s / size.seconds, longest_s);
}

double quantile(std::vector<double>& sorted, double q) {
  std::sort(sorted.begin(), sorted.end());
  return sorted[static_cast<std::size_t>(q * static_cast<double>(sorted.size() - 1))];
}

void plot(const std::filesystem::path& folder, const Size& size, const char* name, std::chrono::hours length,
          WallTime oldest, WallTime newest) {
  std::mt19937 random{7};
  std::uniform_int_distribution<int> any{0, size.channels - 1};
  std::vector<double> took_ms;
  std::size_t fewest = trend_points_max;
  for (int i = 0; i < 200; ++i) {
    const int channel = any(random);
    const auto spread = std::max<std::int64_t>(0, (newest - oldest - length).count());
    const auto to =
        i % 2 == 0 ? newest : newest - milliseconds{std::uniform_int_distribution<std::int64_t>{0, spread}(random)};
    const auto begin = Clock::now();
    const auto found =
        must(trend(folder, {room_of(channel), sensor_of(channel),
                            trend_quantity_named(i % 3 == 0 ? "pressure_kpa" : "dry_fraction"), to - length, to, 600}));
    took_ms.push_back(1e3 * seconds_since(begin));
    fewest = std::min(fewest, found.steps.size());
  }
  fmt::print("  \"plot_{0}_p50_ms\": {1:.1f}, \"plot_{0}_p99_ms\": {2:.1f}, \"plot_{0}_max_ms\": {3:.1f}, "
             "\"plot_{0}_fewest_points\": {4},\n",
             name, quantile(took_ms, 0.5), quantile(took_ms, 0.99), took_ms.back(), fewest);
}

/// Of a table whose pages are counted one by one, which takes its time with a large one.
double bytes_of(store::Database& database, const char* table) {
  return static_cast<double>(
      must(database.integer(fmt::format("SELECT coalesce(sum(pgsize), 0) FROM dbstat WHERE name = '{}'", table))));
}

void sizes(const std::filesystem::path& folder) {
  const double bytes = static_cast<double>(store::disk_room(folder).bytes);
  auto database = must(store::open_for_reading(folder, store::measurements_schema()));
  const auto count = [&](const char* table) {
    return static_cast<double>(must(database.integer(fmt::format("SELECT count(*) FROM {}", table))));
  };
  const double of_readings = bytes_of(database, "reading"), of_samples = bytes_of(database, "sample");
  const double per_reading = of_readings / count("reading"), per_sample = of_samples / count("sample");
  const double per_step = (bytes - of_readings - of_samples) / count("rollup"); // all else is next to nothing
  fmt::print("  \"bytes\": {:.0f}, \"bytes_per_reading\": {:.0f}, \"bytes_per_sample\": {:.0f}, \"bytes_per_step\": "
             "{:.0f},\n",
             bytes, per_reading, per_sample, per_step);
  // Each channel: one sample and one reading a second, one step a minute and one an hour.
  fmt::print(
      "  \"GB_a_channel_and_year\": {{\"samples\": {:.2f}, \"readings\": {:.2f}, \"minutes\": {:.3f}, \"hours\": "
      "{:.4f}}},\n",
      31.536e6 * per_sample / 1e9, 31.536e6 * per_reading / 1e9, 525600 * per_step / 1e9, 8760 * per_step / 1e9);
}

void copy(const std::filesystem::path& folder) {
  const auto to = folder / "copy";
  const auto quietly = [](std::string_view, double) {};
  auto begin = Clock::now();
  const auto made = backup::make(folder, to, "bench", wall_now(), quietly);
  const double made_s = seconds_since(begin);
  begin = Clock::now();
  const auto verified = made ? backup::verify(to, quietly) : made;
  if (!verified) {
    fmt::print(stderr, "{}\n", verified.error());
    std::exit(1);
  }
  fmt::print("  \"backup_s\": {:.1f}, \"backup_check_s\": {:.1f}\n", made_s, seconds_since(begin));
  std::filesystem::remove_all(to);
}

} // namespace
} // namespace oxherd::daemon

int main(int count, char** words) {
  using namespace oxherd::daemon;
  if (count < 2 || words[1][0] == '-') {
    fmt::print(stderr, "usage: {} FOLDER [CHANNELS [DAYS [DAYS_OF_MINUTES [SECONDS]]]]\n", words[0]);
    return 2;
  }
  const std::filesystem::path folder{words[1]};
  std::filesystem::create_directories(folder);
  Size size;
  int* const numbers[] = {&size.channels, &size.days, &size.days_of_minutes, &size.seconds};
  for (int i = 2; i < count && i < 6; ++i) *numbers[i - 2] = std::max(1, std::atoi(words[i]));
  const auto now = std::chrono::floor<std::chrono::hours>(wall_now()) - std::chrono::hours{1};
  const WallTime end{now};
  fmt::print("{{\n  \"channels\": {}, \"days\": {}, \"days_of_minutes\": {}, \"seconds_written\": {},\n", size.channels,
             size.days, size.days_of_minutes, size.seconds);
  { // a journal, so that a backup has one; and each sensor once, which numbers it
    must(store::Journal::open(folder));
    auto file = must(store::Measurements::open(folder));
    std::mt19937 random{1};
    std::vector<store::Queued<store::MeasurementRow>> rows;
    add_second(rows, size.channels, end - std::chrono::hours{24 * size.days}, random);
    must(file.write(rows));
    auto database = must(store::open_beside(folder, store::measurements_schema()));
    const auto ms = [&](int days) { return (end - std::chrono::hours{24 * days}).time_since_epoch().count(); };
    auto begin = Clock::now();
    put_steps(database, store::tens_ms, size.channels, ms(0) - 2 * store::hour_ms, ms(0));
    put_steps(database, store::minute_ms, size.channels, ms(size.days_of_minutes), ms(0));
    put_steps(database, store::hour_ms, size.channels, ms(size.days), ms(0));
    must(database.run(fmt::format("REPLACE INTO rolled VALUES(1, {})", ms(0) / store::minute_ms)));
    fmt::print("  \"past_put_there_s\": {:.1f},\n", seconds_since(begin));
    write_on(file, size, end);
  }
  const auto newest = end + std::chrono::seconds{size.seconds};
  plot(folder, size, "hour", std::chrono::hours{1}, newest - std::chrono::hours{1}, newest);
  plot(folder, size, "day", std::chrono::hours{24}, end - std::chrono::hours{24 * size.days_of_minutes}, newest);
  plot(folder, size, "year", std::chrono::hours{24 * 365}, end - std::chrono::hours{24 * size.days}, newest);
  sizes(folder);
  copy(folder);
  fmt::print("}}\n");
}
