#pragma once

#include <string>
#include <vector>

#include <sys/types.h>

#include "drivers/waiting.hpp"

namespace oxherd::drivers_test {

/// A program started beside a test; ended by its process id with the test, also when that crashes. What it prints, on
/// either stream, is read here.
class ChildProcess {
public:
  explicit ChildProcess(const std::vector<std::string>& command);
  ~ChildProcess();
  ChildProcess(const ChildProcess&) = delete;
  ChildProcess& operator=(const ChildProcess&) = delete;
  /// Reads lines until one contains `words`, and returns it; empty after 20 s or when the program has ended.
  [[nodiscard]] std::string wait_for_line(const std::string& words);
  [[nodiscard]] const std::string& output() const { return output_; } ///< all that was read so far

private:
  pid_t pid_ = -1;
  drivers::FileDescriptor pipe_;
  std::string output_;
  std::size_t looked_at_ = 0;
};

} // namespace oxherd::drivers_test
