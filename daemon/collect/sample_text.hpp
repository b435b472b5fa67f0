#pragma once

#include <array>
#include <string>

#include "daemon/collect/message.hpp"

namespace oxherd::daemon::collect {

/// Appends "2026-03-01 08:15:30.250000+00". Years 0 to 9999.
void append_time(std::string& text, SampleTime at);
[[nodiscard]] std::string time_text(SampleTime at); ///< the same

/// A sample as the fields of one row of COPY; a null pointer is NULL. What it returns holds until it is called again.
class SampleText {
public:
  using Fields = std::array<const char*, 5>; ///< channel, quality, at, value, words
  [[nodiscard]] const Fields& fields(int channel, const Sample& sample);

private:
  std::string channel_, quality_, at_, value_;
  Fields fields_{};
};

} // namespace oxherd::daemon::collect
