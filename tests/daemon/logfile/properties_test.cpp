// Whatever the rows hold, the corrected file holds them byte for byte.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "daemon/logfile/corrector.hpp"
#include "tests/daemon/logfile/logfile_fixture.hpp"
#include "tests/daemon/logfile/text_source.hpp"

namespace oxherd::daemon::logfile_properties_test {

using logfile_test::plain_header;
using logfile_test::plain_recipe;

/// Rows between the plausible and the broken.
rc::Gen<std::string> any_rows() {
  const auto piece =
      rc::gen::element<std::string>("11.9", "12.2", "88", "93.87", "2026-03-02T06:00:00Z", ",", ",", ",", "\n", "\n",
                                    "\r\n", "\"", "\"\"", " ", "x", "\xFC", std::string(1, '\0'), "-", "#");
  return rc::gen::map(rc::gen::container<std::vector<std::string>>(piece), [](const std::vector<std::string>& pieces) {
    std::string text;
    for (const auto& one : pieces) text += one;
    return text;
  });
}

/// Corrects rows in memory and returns, for each row, what the output has for it.
struct Outcome {
  std::vector<std::string> outputs;
  std::vector<logfile_test::ReadRow> rows;
  logfile::Summary summary;
};

Outcome outcome_of(const std::string& text) {
  static const auto recipe = logfile::parse_recipe(plain_recipe("[format]\ncomment = \"#\"\n"), "r.toml", "");
  const auto layout = logfile::find_layout(std::string{plain_header} + logfile_test::plain_row, "in.csv",
                                           recipe->format, logfile::wanted_of(*recipe, logfile::Source::From::column));
  Outcome outcome;
  logfile::Corrector corrector{*recipe, *layout, nullptr, outcome.summary};
  logfile_test::TextSource source{text};
  logfile::RowReader reader{source, "in.csv"};
  reader.divide_by(layout->dialect);
  logfile::Row row;
  while (reader.next(row).value_or(false)) {
    std::string out;
    RC_ASSERT(corrector.add(row, out).has_value());
    corrector.flush(out);
    outcome.outputs.push_back(out);
    outcome.rows.push_back({.bytes = std::string{row.bytes}, .line_end = std::string{row.line_end}, .fields = {}});
  }
  return outcome;
}

RC_GTEST_PROP(AnyRow, StandsUnchangedInFrontOfWhatIsAdded, ()) {
  const auto text = *any_rows();
  const auto outcome = outcome_of(text);
  std::string whole;
  for (std::size_t i = 0; i < outcome.rows.size(); ++i) {
    const auto& row = outcome.rows[i];
    RC_ASSERT(outcome.outputs[i].starts_with(row.bytes));
    RC_ASSERT(outcome.outputs[i].ends_with(row.line_end));
    whole += row.bytes + row.line_end;
  }
  RC_ASSERT(whole == text);
}

RC_GTEST_PROP(AnyRow, IsCountedOnce, ()) {
  const auto outcome = outcome_of(*any_rows());
  const auto& summary = outcome.summary;
  RC_ASSERT(summary.rows + summary.other_lines == outcome.rows.size());
  RC_ASSERT(summary.good + summary.uncertain + summary.bad == summary.rows);
}

RC_GTEST_PROP(AnyRow, ThatIsBadHasNoNumberBehindIt, ()) {
  const auto outcome = outcome_of(*any_rows());
  for (std::size_t i = 0; i < outcome.rows.size(); ++i) {
    const auto added = outcome.outputs[i].substr(outcome.rows[i].bytes.size());
    const auto bad = added.find("bad,");
    if (bad == std::string::npos) continue;
    RC_ASSERT(added.find_first_of("0123456789") == std::string::npos);
    RC_ASSERT(added.size() > bad + 4 + outcome.rows[i].line_end.size()); // a remark says why
  }
}

} // namespace oxherd::daemon::logfile_properties_test
