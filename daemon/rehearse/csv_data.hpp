#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/logfile/fields.hpp"
#include "daemon/logfile/input.hpp"
#include "daemon/rehearse/csv_layout.hpp"
#include "daemon/rehearse/data_source.hpp"

namespace oxherd::daemon::rehearse {

/// Samples out of a table of text: what `oxherd history --csv` and `oxherd correct` write, or a logger's own.
class CsvData final : public DataSource {
public:
  /// "-" is standard input. The failure says what the file lacks and how to give it.
  [[nodiscard]] static tl::expected<std::unique_ptr<CsvData>, logfile::Failure> open(const std::string& file,
                                                                                     const CsvWanted& wanted);
  /// The same from any source of bytes; `file` stands for it in messages.
  [[nodiscard]] static tl::expected<std::unique_ptr<CsvData>, logfile::Failure>
  read(std::unique_ptr<logfile::ByteSource> bytes, const std::string& file, const CsvWanted& wanted);

  [[nodiscard]] const std::vector<DataChannel>& channels() const override { return layout_.channels; }
  [[nodiscard]] tl::expected<bool, logfile::Failure> next(SamplesAt& to) override;
  [[nodiscard]] const DataNotes& notes() const override { return notes_; }
  [[nodiscard]] std::optional<double> part() const override;

private:
  CsvData(std::unique_ptr<logfile::ByteSource> bytes, const std::string& file);
  [[nodiscard]] tl::expected<void, logfile::Failure> start(const std::string& file, const CsvWanted& wanted);
  /// Whether the row has samples to take.
  [[nodiscard]] bool take(SamplesAt& to);
  [[nodiscard]] bool take_time(std::size_t order, WallTime& at);
  void take_sample(const CsvChannel& columns, std::size_t channel, SamplesAt& to);
  [[nodiscard]] std::optional<double> number(int column, const compensation::Unit& unit, Span span, Sample& sample);
  /// A number beside the value; the sample is bad when the table has a column for it and the row has none in it.
  [[nodiscard]] std::optional<double> beside(int column, const compensation::Unit& unit, Span span, Sample& sample);
  [[nodiscard]] std::string_view text(int column);
  void note(Troubles& troubles, std::string what) const;

  std::unique_ptr<logfile::ByteSource> bytes_;
  const logfile::FileSource* file_ = nullptr; ///< when it is one
  logfile::RowReader rows_;
  CsvLayout layout_;
  std::optional<logfile::FieldReader> times_;
  std::vector<std::string> missing_;
  std::vector<std::optional<WallTime>> newest_; ///< by room in a long table; one for all in a wide one
  logfile::Row row_;
  std::string scratch_;
  DataNotes notes_;
};

} // namespace oxherd::daemon::rehearse
