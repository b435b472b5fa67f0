// Prints rows and what read_batch finds in them, without uncertainty and with it, for the comparison with other
// programs.
#include <charconv>
#include <cstdint>
#include <cstdio>
#include <string_view>

#include "tests/bench/rows.hpp"

int main(int argc, char** argv) {
  using namespace oxherd::compensation;
  const std::string_view wanted = argc == 2 ? argv[1] : "";
  std::size_t count = 0;
  const auto [end, trouble] = std::from_chars(wanted.data(), wanted.data() + wanted.size(), count);
  if (trouble != std::errc{} || end != wanted.data() + wanted.size() || count == 0) {
    std::fputs(
        "oxherd_bench_rows COUNT: prints signal_V temperature_K humidity pressure_Pa dry_fraction u_dry_fraction\n",
        stderr);
    return 2;
  }
  const bench::Rows rows = bench::many_rows(count);
  std::vector<double> dry(count);
  std::vector<std::uint8_t> valid(count);
  if (read_batch(bench::prepared(CellModel::concentration), bench::columns(rows), dry, valid) != count) return 1;
  const bench::Spread u{rows};
  bench::Readings with_u{count};
  if (read_batch(bench::prepared(CellModel::concentration), bench::columns(rows, u), {}, with_u.view()) != count)
    return 1;
  for (std::size_t i = 0; i < count; ++i)
    std::printf("%.17g %.17g %.17g %.17g %.17g %.17g\n", rows.signal_V[i], rows.temperature_K[i], rows.humidity[i],
                rows.pressure_Pa[i], dry[i], with_u.values[1][i]);
  return 0;
}
