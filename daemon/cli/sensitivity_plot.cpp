#include "daemon/cli/sensitivity_plot.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "daemon/calibration/wording.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr int plot_rows = 9;
constexpr int plot_columns = 61;
/// Less than this from bottom to top would make a mountain of every scatter.
constexpr double percent_min = 4.0;

/// The span of the plot upwards, in percent.
struct PercentSpan {
  double low = 0.0, high = 0.0;
};

PercentSpan span_of(const std::vector<SensitivityPoint>& points) {
  PercentSpan span{1e300, -1e300};
  for (const auto& point : points) {
    span.low = std::min(span.low, (point.share - point.u_share) * 100.0);
    span.high = std::max(span.high, (point.share + point.u_share) * 100.0);
  }
  span.low = std::floor(span.low);
  span.high = std::max(std::ceil(span.high), span.low + percent_min);
  return span;
}

int row_at(double percent, PercentSpan span) {
  const double down = (span.high - percent) / (span.high - span.low) * (plot_rows - 1);
  return std::clamp(static_cast<int>(std::lround(down)), 0, plot_rows - 1);
}

} // namespace

std::string sensitivity_plot(const std::vector<SensitivityPoint>& points) {
  if (points.size() < 2 || points.back().performed <= points.front().performed) return {};
  const auto span = span_of(points);
  const double length = static_cast<double>((points.back().performed - points.front().performed).count());
  std::vector<std::string> rows(plot_rows, std::string(plot_columns, ' '));
  const auto column_of = [&](const SensitivityPoint& point) {
    const double along = static_cast<double>((point.performed - points.front().performed).count()) / length;
    return static_cast<std::size_t>(std::lround(along * (plot_columns - 1)));
  };
  const auto mark = [&](int row, std::size_t column, char with) { rows[static_cast<std::size_t>(row)][column] = with; };
  for (const auto& point : points) {
    const int top = row_at((point.share + point.u_share) * 100.0, span);
    const int bottom = row_at((point.share - point.u_share) * 100.0, span);
    for (int row = top; row <= bottom; ++row) mark(row, column_of(point), '|');
  }
  for (const auto& point : points) mark(row_at(point.share * 100.0, span), column_of(point), '*'); // over every bar
  std::string out = "  sensitivity, % of the first\n";
  for (int row = 0; row < plot_rows; ++row) {
    auto& line = rows[static_cast<std::size_t>(row)];
    line.erase(line.find_last_not_of(' ') + 1);
    const double percent = span.high - (span.high - span.low) * row / (plot_rows - 1);
    out += fmt::format("  {:>6.1f} |{}{}\n", percent, line.empty() ? "" : " ", line);
  }
  const auto first = day_text(points.front().performed), last = day_text(points.back().performed);
  return out + fmt::format("         +{:-<{}}\n           {:<{}}{}\n", "", plot_columns + 1, first,
                           plot_columns - static_cast<int>(last.size()), last);
}

} // namespace oxherd::daemon::cli
