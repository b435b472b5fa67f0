#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "demo/descriptor.hpp"

namespace oxherd::demo {

/// A named pipe from which a person or a test tells the simulator what is to happen at once.
class OrderPipe {
public:
  /// Makes the pipe at this path, in place of one that was left there.
  /// @throws std::runtime_error when something else is there, or it cannot be made
  explicit OrderPipe(std::filesystem::path path);
  ~OrderPipe(); ///< takes the pipe away
  OrderPipe(const OrderPipe&) = delete;
  OrderPipe& operator=(const OrderPipe&) = delete;

  [[nodiscard]] int descriptor() const { return pipe_.get(); } ///< to wait on
  /// The whole lines that have come, without waiting. A line longer than 1000 characters is thrown away.
  [[nodiscard]] std::vector<std::string> lines();

private:
  std::filesystem::path path_;
  Descriptor pipe_;
  std::string waiting_; ///< the start of a line whose end has not come
};

} // namespace oxherd::demo
