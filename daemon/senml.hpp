#pragma once

#include <string>

#include "daemon/records.hpp"

namespace oxherd::daemon {

/// Readings of one sensor as one SenML pack (RFC 8428): the base fields stand in the first record, later readings have
/// a time relative to the first one. A value that does not exist or is not finite has no record; `quality` is always
/// there as a string.
/// @checked tests/daemon/senml_test.cpp
class SenmlPack {
public:
  /// @param base_name  "<site>/<room>/<sensor>/"
  explicit SenmlPack(std::string base_name) : base_name_{std::move(base_name)} {}

  /// Whether this reading can stand in one pack with those before it: records are in the order of their times (4.6),
  /// and one without a time means "now", whenever the pack arrives.
  [[nodiscard]] bool fits(const ReadingRecord& reading) const;
  void add(const ReadingRecord& reading); ///< one that fits
  [[nodiscard]] bool empty() const { return text_.empty(); }
  [[nodiscard]] std::size_t bytes() const { return text_.size(); }
  [[nodiscard]] std::string take(); ///< the pack; empty afterwards, for the next one

private:
  void begin(std::string_view name);
  void number(std::string_view name, std::string_view unit, std::optional<double> value);

  std::string base_name_;
  std::string text_;     ///< records, without the closing bracket
  std::string relative_; ///< what every record of the reading at work carries
  WallTime base_, last_;
};

/// The pack of one reading.
[[nodiscard]] std::string senml_pack(const std::string& site, const ReadingRecord& reading);

} // namespace oxherd::daemon
