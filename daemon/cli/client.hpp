#pragma once

#include <chrono>
#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

namespace oxherd::daemon::cli {

enum class Unanswered {
  no_daemon, ///< no socket, or nobody listens behind it
  no_access, ///< the socket is there, but not for this user
  broken     ///< connected, but no whole answer came
};

struct ClientError {
  Unanswered kind = Unanswered::broken;
  std::string what; ///< what happened and what to do
};

struct ClientLimits {
  std::chrono::milliseconds patience{10000}; ///< for the whole exchange
  std::size_t answer_bytes_max = 64U << 20U; ///< histories may be longer, see history_answer
};

/// Sends one line to the control socket STATE_DIR/control.sock and returns the line that comes back, without its end.
/// Blocks for at most `limits.patience`.
[[nodiscard]] tl::expected<std::string, ClientError> ask_daemon(const std::filesystem::path& state_dir,
                                                                std::string_view request, ClientLimits limits = {});

} // namespace oxherd::daemon::cli
