// Random bytes as the rows of a logger file, in random pieces and by random dialects: the rows together are the file,
// corrected rows keep their bytes in front of what is added, and every row is counted once.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <string>
#include <string_view>

#include "daemon/logfile/corrector.hpp"
#include "daemon/logfile/input.hpp"
#include "daemon/logfile/number.hpp"

namespace {

using namespace oxherd::daemon::logfile;

void require(bool promise) {
  if (!promise) std::abort();
}

/// Gives the text in pieces.
class Pieces final : public ByteSource {
public:
  Pieces(std::string_view text, std::size_t piece) : text_{text}, piece_{piece} {}
  tl::expected<std::size_t, Failure> read(char* to, std::size_t room) override {
    const std::size_t n = std::min({room, piece_, text_.size()});
    std::memcpy(to, text_.data(), n);
    text_.remove_prefix(n);
    return n;
  }

private:
  std::string_view text_;
  std::size_t piece_;
};

constexpr const char* recipe_text = R"(
[format]
comment = "#"
[time]
column = 1
[signal]
column = 2
unit = "mV"
[temperature]
column = 3
unit = "°C"
[humidity]
column = 4
unit = "%"
[pressure]
column = 5
unit = "kPa"
[cell]
model = "concentration"
[calibration]
signal = "12.6 mV"
temperature = "21 °C"
humidity = "45 %"
pressure = "99.8 kPa"
)";

Layout layout_by(std::uint8_t choice) {
  constexpr char delimiters[] = {',', ';', '\t', '|'};
  Layout layout;
  layout.dialect = {.delimiter = delimiters[choice % 4U],
                    .blanks = choice % 16U == 15U,
                    .decimal = choice % 8U < 4U ? '.' : ',',
                    .quote = choice % 32U < 24U ? '"' : '\0',
                    .comment = "#"};
  if (layout.dialect.blanks) layout.dialect.delimiter = ' ';
  layout.columns = layout.width = 5;
  layout.quantities = {1, 2, 3, -1, 4};
  layout.time = {0};
  return layout;
}

void read_numbers(std::string_view text) {
  for (const char mark : {'.', ','}) {
    const auto number = parse_number(text, mark);
    if (!number) continue;
    require(std::isfinite(*number));
    std::string out;
    append_fixed(out, *number, 3, mark);
    require(parse_number(out, mark).has_value());
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 3) return 0;
  static const auto recipe = parse_recipe(recipe_text, "fuzz", "");
  require(recipe.has_value());
  const std::string_view text{reinterpret_cast<const char*>(data + 3), size - 3};
  read_numbers(text.substr(0, text.find('\n')));
  const Layout layout = layout_by(data[0]);
  Pieces source{text, 1U + data[1] % 64U};
  RowReader reader{source, "fuzz", 16U + data[2]};
  reader.divide_by(layout.dialect);
  Summary summary;
  Corrector corrector{*recipe, layout, nullptr, summary};
  std::string all;
  std::uint64_t rows = 0;
  std::uint64_t line = 0;
  Row row;
  while (reader.next(row).value_or(false)) {
    std::string out;
    require(corrector.add(row, out).has_value());
    corrector.flush(out);
    require(out.starts_with(row.bytes));
    require(out.ends_with(row.line_end));
    require(row.line >= line);
    line = row.line;
    all += row.bytes;
    all += row.line_end;
    rows += row.unfinished ? 0 : 1;
  }
  require(all == text);
  require(summary.rows + summary.other_lines == rows);
  require(summary.good + summary.uncertain + summary.bad == summary.rows);
  return 0;
}
