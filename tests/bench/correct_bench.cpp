// Speed of a correction in memory: rows of five columns through splitter, numbers, times, reading and formatting. The
// whole program, with pandas and awk beside it, is measured by correct_peers.py.
#include <cstring>

#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include "daemon/logfile/corrector.hpp"
#include "daemon/logfile/number.hpp"

namespace oxherd::daemon::correct_bench {

namespace {

constexpr const char* recipe_text = R"(
[time]
column = "time"
[signal]
column = "mV"
unit = "mV"
[temperature]
column = "T"
unit = "°C"
[humidity]
column = "RH"
unit = "%"
[pressure]
column = "p"
unit = "hPa"
[cell]
model = "concentration"
zero = "0.4 mV"
[calibration]
signal = "12.6 mV"
temperature = "21 °C"
humidity = "45 %"
pressure = "99.8 kPa"
)";

std::string some_rows() {
  std::string text;
  for (int i = 0; i < 10000; ++i)
    text +=
        fmt::format("2026-03-02T{:02}:{:02}:{:02}.000+01:00,{:.4f},{:.2f},{:.1f},{:.2f}\n", i / 3600, i / 60 % 60,
                    i % 60, 11.5 + i % 700 * 1e-3, 12.0 + i % 900 * 1e-2, 55.0 + i % 330 * 0.1, 980.0 + i % 150 * 0.1);
  return text;
}

/// Gives the same rows until the benchmark ends.
void rows(benchmark::State& state) {
  const auto recipe = logfile::parse_recipe(recipe_text, "bench", "");
  if (!recipe) return state.SkipWithError("the recipe is refused");
  const auto text = some_rows();
  const auto layout = logfile::find_layout("time,mV,T,RH,p\n" + text.substr(0, 4096), "bench", recipe->format,
                                           logfile::wanted_of(*recipe, logfile::Source::From::column));
  if (!layout) return state.SkipWithError("no layout is found");
  logfile::Summary summary;
  logfile::Corrector corrector{*recipe, *layout, nullptr, summary};
  const logfile::RowSplitter splitter{layout->dialect};
  logfile::Row row;
  std::string out;
  for (auto _ : state) {
    out.clear();
    for (std::string_view rest = text; !rest.empty();) {
      rest.remove_prefix(splitter.split(rest, true, row));
      if (!corrector.add(row, out)) return state.SkipWithError("a row failed");
    }
    corrector.flush(out);
    benchmark::DoNotOptimize(out.data());
  }
  if (summary.bad > 0) return state.SkipWithError("a row is bad");
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
  state.SetItemsProcessed(static_cast<std::int64_t>(summary.rows));
}
BENCHMARK(rows);

/// The division into fields alone.
void split_rows(benchmark::State& state) {
  const auto text = some_rows();
  const logfile::RowSplitter splitter{logfile::Dialect{}};
  logfile::Row row;
  for (auto _ : state)
    for (std::string_view rest = text; !rest.empty();) rest.remove_prefix(splitter.split(rest, true, row));
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
}
BENCHMARK(split_rows);

/// The peer of the above: finding the line ends with the C library.
void find_line_ends(benchmark::State& state) {
  const auto text = some_rows();
  for (auto _ : state)
    for (const char* at = text.data(); at != text.data() + text.size();) {
      const auto left = static_cast<std::size_t>(text.data() + text.size() - at);
      at = static_cast<const char*>(std::memchr(at, '\n', left)) + 1;
      benchmark::DoNotOptimize(at);
    }
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
}
BENCHMARK(find_line_ends);

void parse_numbers(benchmark::State& state) {
  for (auto _ : state)
    for (const char* text : {"11.9023", "12.25", "87.1", "986.40"})
      benchmark::DoNotOptimize(logfile::parse_number(text, '.'));
  state.SetItemsProcessed(state.iterations() * 4);
}
BENCHMARK(parse_numbers);

void parse_times(benchmark::State& state) {
  auto format = logfile::TimeFormat::make("iso");
  if (!format) return state.SkipWithError("no format");
  for (auto _ : state)
    benchmark::DoNotOptimize(format->parse("2026-03-02T06:05:00.000+01:00", std::chrono::minutes{0}));
  state.SetItemsProcessed(state.iterations());
}
BENCHMARK(parse_times);

} // namespace

} // namespace oxherd::daemon::correct_bench
