#pragma once

#include <chrono>
#include <filesystem>
#include <span>
#include <string>

#include "demo/descriptor.hpp"
#include "demo/devices.hpp"

namespace oxherd::demo {

/// Finds request frames in the bytes of a serial line and drops what is none: after each request, after a wrong CRC,
/// and when a frame stays incomplete for longer than a silence.
class FrameFinder {
public:
  using Monotonic = OutputModule::Monotonic;
  /// Longer than any gap inside a frame that a busy machine makes on a pseudo terminal.
  static constexpr Monotonic silence{50};

  void add(std::span<const std::uint8_t> bytes, Monotonic now);
  /// The next whole frame with a right CRC, without its CRC; empty when there is none yet.
  [[nodiscard]] std::optional<Bytes> next();

private:
  Bytes waiting_;
  Monotonic last_{0};
};

/// The serial line "stores" on a pseudo terminal, found by others at a symbolic link. One thread only.
class SerialServer {
public:
  /// Opens the terminal and makes the link (and its directory). An older link there is replaced; any other file is not.
  /// @throws std::runtime_error, which says what could not be made
  SerialServer(Devices& devices, const std::filesystem::path& link);
  SerialServer(const SerialServer&) = delete;
  SerialServer& operator=(const SerialServer&) = delete;
  ~SerialServer(); ///< takes the link away if it is still its own

  [[nodiscard]] int descriptor() const { return master_.get(); } ///< readable: call serve()
  void serve(OutputModule::Monotonic now);

private:
  Devices* devices_;
  std::filesystem::path link_;
  Descriptor master_;
  Descriptor slave_; // kept open, or the master would report a hang-up whenever a client closes the line
  std::string slave_name_;
  FrameFinder finder_;
};

} // namespace oxherd::demo
