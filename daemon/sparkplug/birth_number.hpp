#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

namespace oxherd::daemon::sparkplug {

/// The number by which the death of an edge node is told to belong to one of its births: one more for each connection
/// that is tried, 0 after 255 (tck-id-topics-nbirth-bdseq-increment). It goes on over restarts, so that the death of a
/// daemon that was killed is never taken for that of the next one.
/// @checked tests/daemon/sparkplug/birth_number_test.cpp
class BirthNumber {
public:
  explicit BirthNumber(std::filesystem::path file) : file_{std::move(file)} {}
  /// The next one; it is on disk before it is given. `trouble`: why it is not, when the disk does not take it.
  [[nodiscard]] std::uint8_t next(std::string& trouble);

private:
  std::filesystem::path file_;
  bool is_read_ = false;
  std::uint8_t last_ = 255;
};

} // namespace oxherd::daemon::sparkplug
